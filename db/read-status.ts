import type { Instant } from '../shared/base/instant.ts';
import type { EventDraft, Subject } from '../shared/inference/event.ts';
import type { Standing } from '../shared/inference/standing.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** What stands now, as pages read it. */
export interface StandingRow {
  readonly subjectId: number;
  readonly site: string;
  readonly kind: Subject['kind'];
  readonly device: string;
  readonly version: number;
  readonly standing: Standing | null;
  readonly knownThrough: Instant | null;
  readonly stopped: string | null;
}

const STANDING_COLUMNS = `s.id as "subjectId", s.site, s.kind, s.device, st.version, st.standing,
  st.known_through as "knownThrough", st.stopped`;

const STANDINGS = statement(
  'status-standings',
  `select ${STANDING_COLUMNS} from subjects s join subject_states st on st.subject_id = s.id
   where s.site = any($1::text[])`,
);

export const readStandings = (queries: Queries, sites: readonly string[]): Promise<StandingRow[]> =>
  queries.many<StandingRow>(STANDINGS, [sites]);

/** An event with what the store adds to it. */
export interface KeptEvent {
  readonly event: EventDraft;
  readonly revision: number;
  readonly replaces: readonly string[];
  readonly inferredAt: Instant;
  readonly withdrawnAt: Instant | null;
  readonly replacedBy: string | null;
}

export const EVENT_COLUMNS = `e.body as event, e.revision, e.replaces, e.inferred_at as "inferredAt",
  e.withdrawn_at as "withdrawnAt", e.replaced_by as "replacedBy"`;

const OPEN = statement(
  'status-open-events',
  `select ${EVENT_COLUMNS} from events e
   where e.site = any($1::text[]) and e.withdrawn_at is null and e.end_latest is null and e.kind <> 'compressor-run'
   order by e.start_latest, e.id limit $2`,
);

/** Events that aren't over, without ordinary runs; oldest first. */
export const readOpenNow = (
  queries: Queries,
  sites: readonly string[],
  limit: number,
): Promise<KeptEvent[]> => queries.many<KeptEvent>(OPEN, [sites, limit]);

/** What of an event a strip is drawn from. */
export interface StripEvent {
  readonly id: string;
  readonly site: string;
  readonly unit: string;
  readonly kind: string;
  readonly certainty: 'certain' | 'probable' | 'possible';
  readonly start: Instant;
  readonly end: Instant | null;
}

const STRIP = statement(
  'status-strip-events',
  `select id, site, unit, kind, certainty, start_latest as start, end_latest as "end" from events
   where site = any($1::text[]) and withdrawn_at is null and unit is not null and kind = any($2::text[])
     and start_latest < $4 and (end_latest is null or end_latest > $3)
   order by start_latest, id limit $5`,
);

export const readStripEvents = (
  queries: Queries,
  asked: {
    readonly sites: readonly string[];
    readonly kinds: readonly string[];
    readonly from: Instant;
    readonly to: Instant;
    readonly limit: number;
  },
): Promise<StripEvent[]> =>
  queries.many<StripEvent>(STRIP, [
    asked.sites,
    asked.kinds,
    timeParameter(asked.from),
    timeParameter(asked.to),
    asked.limit,
  ]);

export interface ChangedRows {
  readonly standings: readonly StandingRow[];
  readonly events: readonly KeptEvent[];
  /** where the next look begins */
  readonly seen: string;
  /** there were more than could be given: read everything again */
  readonly overrun: boolean;
}

const SEEN = statement('changes-seen', 'select pg_snapshot_xmin(pg_current_snapshot())::text as seen');
const CHANGED_STANDINGS = statement(
  'changes-standings',
  `select ${STANDING_COLUMNS} from subject_states st join subjects s on s.id = st.subject_id
   where st.saved_in >= $1::xid8 order by st.saved_in limit $2`,
);
const CHANGED_EVENTS = statement(
  'changes-events',
  `select ${EVENT_COLUMNS} from events e where e.saved_in >= $1::xid8 order by e.saved_in limit $2`,
);

/** Where a look for changes begins: every transaction that isn't over yet comes after it. */
export const readSeen = async (queries: Queries): Promise<string> =>
  (await queries.one<{ seen: string }>(SEEN)).seen;

/**
 * What was saved by transactions that weren't over at the last look. Some of it may have been given before: compare
 * version and revision. To be asked in one snapshot (repeatable read).
 */
export async function readChanges(queries: Queries, since: string, limit: number): Promise<ChangedRows> {
  const seen = await readSeen(queries);
  const standings = await queries.many<StandingRow>(CHANGED_STANDINGS, [since, limit]);
  const events = await queries.many<KeptEvent>(CHANGED_EVENTS, [since, limit]);
  return { standings, events, seen, overrun: standings.length >= limit || events.length >= limit };
}
