import type { Instant } from '../shared/base/instant.ts';
import type { Revision } from '../shared/inference/revision.ts';
import { statement, type Queries } from './pool.ts';
import { EVENT_COLUMNS, type KeptEvent } from './read-status.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** Events as lists ask for them: those that touch a stretch of time, oldest first, a page at a time. */
export interface EventQuery {
  readonly site: string | null;
  /** of these sites; null: of any */
  readonly only: readonly string[] | null;
  readonly space: string | null;
  readonly panel: string | null;
  readonly unit: string | null;
  readonly kinds: readonly string[] | null;
  readonly from: Instant | null;
  readonly to: Instant | null;
  /** the last of the page before */
  readonly after: { readonly start: Instant; readonly id: string } | null;
  readonly limit: number;
}

const LIST = statement(
  'events-list',
  `select ${EVENT_COLUMNS} from events e
   where e.withdrawn_at is null
     and ($1::text is null or e.site = $1) and ($2::text is null or e.space = $2)
     and ($3::text is null or e.panel = $3) and ($4::text is null or e.unit = $4)
     and ($5::text[] is null or e.kind = any($5))
     and ($6::timestamptz is null or e.end_latest is null or e.end_latest >= $6)
     and ($7::timestamptz is null or e.start_earliest < $7)
     and ($11::text[] is null or e.site = any($11))
     and ($8::timestamptz is null or (e.start_latest, e.id) > ($8, $9::text))
   order by e.start_latest, e.id limit $10`,
);

export const readEvents = (queries: Queries, asked: EventQuery): Promise<KeptEvent[]> =>
  queries.many<KeptEvent>(LIST, [
    asked.site,
    asked.space,
    asked.panel,
    asked.unit,
    asked.kinds,
    timeOrNull(asked.from),
    timeOrNull(asked.to),
    asked.after ? timeParameter(asked.after.start) : null,
    asked.after?.id ?? null,
    asked.limit,
    asked.only,
  ]);

const ONE = statement(
  'events-one',
  `with recursive line as (
     select id, replaced_by, 0 as step from events where id = $1
     union all
     select e.id, e.replaced_by, line.step + 1 from events e join line on e.id = line.replaced_by
     where line.step < 100
   ) select ${EVENT_COLUMNS} from events e
     where e.id = (select id from line order by step desc limit 1)`,
);

/**
 * What was said of an event before: its own earlier revisions and those of the events that it replaced, oldest first.
 * Bounded: twenty steps back, a hundred revisions.
 */
const REVISIONS = statement(
  'events-revisions',
  `with recursive line as (
     select id, replaces, 0 as step from events where id = $1
     union
     select e.id, e.replaces, line.step + 1 from events e join line on e.id = any(line.replaces) where line.step < 20
   )
   select r.event_id as id, r.revision, r.said, r.said_at as "saidAt", r.changed_at as "changedAt", r.why
   from event_revisions r where r.event_id in (select id from line)
   order by r.changed_at, r.said_at, r.revision limit 100`,
);

export const readRevisions = (queries: Queries, id: string): Promise<Revision[]> =>
  queries.many<Revision>(REVISIONS, [id]);

/** An event by its id, or by that of one that it stands for now. */
export const readEvent = (queries: Queries, id: string): Promise<KeptEvent | null> =>
  queries.maybe<KeptEvent>(ONE, [id]);
