import type { Instant } from '../shared/base/instant.ts';
import { holdConfiguration } from './configuration-lock.ts';
import { readRanges } from './partitions.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { deleteHeld } from './sites.ts';
import { timeParameter } from './values.ts';

/** Sites that the demonstration began, and what is left of them beside their own rows. */
export interface BegunSite {
  readonly id: string;
  /** who else saved it last; null: nobody has */
  readonly changedBy: string | null;
  readonly changedAt: Instant | null;
}

const BEGUN = statement(
  'demonstration-begun',
  `select s.id, c.put_by as "changedBy", c.put_at as "changedAt" from sites s
   left join lateral (select put_by, put_at from site_saves v where v.site = s.id and v.put_by <> $1
     order by v.id desc limit 1) c on true
   where exists (select 1 from site_saves v where v.site = s.id and v.put_by = $1) order by s.id`,
);
/** Sites of which `by` saved a document, in order of id. */
export const readBegunBy = (queries: Queries, by: string): Promise<BegunSite[]> => queries.many(BEGUN, [by]);

const POINTS = statement('demonstration-points', 'select id from points where site = $1');
/** None of these refers to its point or site: commits would have to check each row. */
const TRACES = [
  'delete from intervals where point_id = any($1)',
  'delete from last_heard where point_id = any($1)',
  'delete from waveforms where point_id = any($1)',
  'delete from rollup_marks where point_id = any($1)',
  'delete from sample_rollups where point_id = any($1)',
].map((text, i) => statement(`demonstration-trace-${i}`, text));
const ARRIVALS = statement('demonstration-arrivals', 'delete from arrivals where site = $1');
const SET_ASIDE = statement('demonstration-set-aside', 'delete from rejected where starts_with(topic, $1)');
const HEARD = statement('demonstration-heard', 'delete from heard_topics where starts_with(topic, $1)');

/**
 * A site with all that was inferred, told and written of it, and what was heard or set aside below its own topics. Answers
 * its points, whose samples nobody reaches any more; null: there is no such site.
 */
export function deleteWithTraces(
  database: Database,
  { site, root }: { readonly site: string; readonly root: string },
): Promise<readonly number[] | null> {
  return database.transaction({ name: 'delete-demonstration' }, async (queries) => {
    await holdConfiguration(queries);
    const points = (await queries.many<{ id: number }>(POINTS, [site])).map(({ id }) => id);
    if (!(await deleteHeld(queries, site))) return null;
    for (const trace of TRACES) await queries.run(trace, [points]);
    await queries.run(ARRIVALS, [site]);
    for (const one of [SET_ASIDE, HEARD]) await queries.run(one, [`${root}/${site}/`]);
    return points;
  });
}

const SAMPLES = statement(
  'demonstration-samples',
  'delete from samples where point_id = $1 and t >= $2 and t < $3',
);
/** Their samples, a point and a week at a time; whatever interrupts it leaves rows that nobody reaches. */
export async function deleteSamples(
  database: Database,
  points: readonly number[],
  goesOn: () => boolean,
): Promise<void> {
  for (const { from, before } of await readRanges(database))
    for (const point of points) {
      if (!goesOn()) return;
      await database.run(SAMPLES, [point, timeParameter(from), timeParameter(before)]);
    }
}
