import type { Instant } from '../shared/base/instant.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** The last restart sequences of each panel. */
const LAST = statement(
  'restarts-last',
  `select body from (
     select e.body, e.start_latest, row_number() over (partition by e.site, e.panel order by e.start_latest desc, e.id) as place
     from events e
     where e.kind = 'restart-sequence' and e.withdrawn_at is null and e.panel is not null and e.start_latest >= $3
       and ($1::text[] is null or e.site = any($1)) and ($2::text is null or e.panel = $2)
   ) ranked where place <= $4 order by start_latest limit $5`,
);

/** Oldest first. `only`: of these sites; null: of all. */
export async function readLastRestarts(
  queries: Queries,
  asked: {
    readonly only: readonly string[] | null;
    readonly panel: string | null;
    readonly since: Instant;
    /** of each panel */
    readonly each: number;
    readonly limit: number;
  },
): Promise<EventDraft[]> {
  const rows = await queries.many<{ body: EventDraft }>(LAST, [
    asked.only,
    asked.panel,
    timeParameter(asked.since),
    asked.each,
    asked.limit,
  ]);
  return rows.map(({ body }) => body);
}
