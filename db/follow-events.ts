import type { Instant } from '../shared/base/instant.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import { REVISIONS_KEPT, type RevisionWhy } from '../shared/inference/revision.ts';
import { statement, type Queries } from './pool.ts';
import { positionOrNull, positionParameter } from './follow-times.ts';
import { int4Array } from './values.ts';

/** Events of one subject, as the follower reads and writes them (contract section 4). */
export interface EventRow {
  readonly event: EventDraft;
  readonly settledAt: Instant | null;
}

const READ_UNDECIDED = statement(
  'follow-undecided-events',
  `select subject_id as id, body as event, settled_at as "settledAt" from events
   where subject_id = any($1::int4[]) and withdrawn_at is null and settled_at is null`,
);
const READ_DECIDED = statement(
  'follow-decided-events',
  `select body as event, settled_at as "settledAt" from events
   where subject_id = $1 and withdrawn_at is null and settled_at > $2`,
);

/** Those of several subjects that aren't decided yet. */
export const readUndecidedEvents = (
  queries: Queries,
  subjectIds: readonly number[],
): Promise<(EventRow & { readonly id: number })[]> => queries.many(READ_UNDECIDED, [int4Array(subjectIds)]);

/** Those that were decided by a row after `since`: they may still change. */
export const readDecidedEvents = (queries: Queries, subjectId: number, since: Instant): Promise<EventRow[]> =>
  queries.many<EventRow>(READ_DECIDED, [subjectId, positionParameter(since)]);

const FROZEN = statement(
  'follow-frozen-events',
  'select id from events where id = any($3::text[]) and subject_id = $1 and withdrawn_at is null and settled_at <= $2',
);

/** Which of these were decided by a row at or before `since`: they stand as they are. */
export async function readFrozen(
  queries: Queries,
  subjectId: number,
  since: Instant,
  ids: readonly string[],
): Promise<ReadonlySet<string>> {
  if (ids.length === 0) return new Set();
  const rows = await queries.many<{ id: string }>(FROZEN, [subjectId, positionParameter(since), ids]);
  return new Set(rows.map(({ id }) => id));
}

/**
 * What an event says now, kept as a revision before it is said otherwise. Bounded: the first revision and the newest stay.
 * A part of the statements below: each sees the event as it was before.
 */
function keepingSaid(id: string, why: string, which: string): string {
  return `kept as (
     insert into event_revisions (event_id, revision, said, said_at, why)
     select e.id, e.revision, jsonb_build_object('start', e.body->'start', 'end', e.body->'end', 'cause', e.body->'cause',
       'certainty', e.body->'certainty', 'causeCertainty', e.body->'causeCertainty', 'pending', e.body->'pending',
       'withdrawn', e.withdrawn_at is not null), coalesce(e.withdrawn_at, e.inferred_at), ${why}
     from events e where e.id = ${id} and (${which})
     on conflict do nothing
     returning event_id
   ), thinned as (
     delete from event_revisions r using (
       select event_id, revision from event_revisions where event_id = ${id} and exists (select from kept)
       order by revision desc offset ${REVISIONS_KEPT - 2}
     ) old
     where r.event_id = old.event_id and r.revision = old.revision
       and r.revision > (select min(revision) from event_revisions where event_id = ${id})
   )`;
}

/** $17 why it is said otherwise; $18 whether what it said is to be kept: one that comes back after it was withdrawn always is */
const PUT = statement(
  'follow-put-event',
  `with ${keepingSaid('$1', '$17::jsonb', '$18 or e.withdrawn_at is not null')}
   insert into events as e (id, subject_id, site, panel, unit, space, kind, cause, certainty, start_earliest, start_latest,
     end_latest, discriminator, body, revision, settled_at, replaces)
   values ($1, $2, $3, $4, $5, $6, $7, $8, $9, $10, $11, $12, $13, $14::jsonb, 1, $15, $16)
   on conflict (id) do update set panel = excluded.panel, unit = excluded.unit, space = excluded.space,
     cause = excluded.cause, certainty = excluded.certainty, start_earliest = excluded.start_earliest,
     start_latest = excluded.start_latest, end_latest = excluded.end_latest, body = excluded.body,
     revision = e.revision + 1, settled_at = excluded.settled_at, inferred_at = now(), withdrawn_at = null,
     replaced_by = null, saved_in = pg_current_xact_id(),
     replaces = case when cardinality(excluded.replaces) > 0 then excluded.replaces else e.replaces end`,
);

/** What goes with an event that is new or said otherwise. */
export interface Putting {
  readonly replaces: readonly string[];
  readonly why: RevisionWhy;
  /** what it said before is to be kept as a revision */
  readonly keep: boolean;
}

/** New, amended, or back again: all three are the newest content under its id, one revision further. */
export async function putEvent(
  queries: Queries,
  subjectId: number,
  { event, settledAt }: EventRow,
  { replaces, why, keep }: Putting,
): Promise<void> {
  await queries.run(PUT, [
    event.id,
    subjectId,
    event.site,
    event.panel,
    event.unit,
    event.space,
    event.kind,
    event.cause,
    event.certainty,
    positionParameter(event.start.earliest),
    positionParameter(event.start.latest),
    positionOrNull(event.end?.latest ?? null),
    event.discriminator,
    JSON.stringify(event),
    positionOrNull(settledAt),
    replaces,
    JSON.stringify(why),
    keep,
  ]);
}

const SETTLE = statement('follow-settle-event', 'update events set settled_at = $2 where id = $1');
const WITHDRAW = statement(
  'follow-withdraw-event',
  `with ${keepingSaid('$1', '$3::jsonb', 'e.withdrawn_at is null')}
   update events set withdrawn_at = now(), replaced_by = $2, revision = revision + 1, saved_in = pg_current_xact_id()
   where id = $1`,
);

export async function settleEvent(queries: Queries, { event, settledAt }: EventRow): Promise<void> {
  await queries.run(SETTLE, [event.id, positionOrNull(settledAt)]);
}

export async function withdrawEvent(
  queries: Queries,
  id: string,
  replacedBy: string | null,
  why: RevisionWhy,
): Promise<void> {
  await queries.run(WITHDRAW, [id, replacedBy, JSON.stringify(why)]);
}
