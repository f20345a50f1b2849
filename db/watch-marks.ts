import type { Instant } from '../shared/base/instant.ts';
import type { WatchCoverage } from '../shared/inference/watch.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** "Subscribed, and everything received from `from` to `to` is committed." */
export interface WatchMark {
  readonly ingest: string;
  readonly from: Instant;
  readonly to: Instant;
}

/** A mark that begins where one of the same ingest ends lengthens it; the same mark again changes nothing. */
const EXTEND = statement(
  'watch-mark-extend',
  `update watch_marks set to_t = greatest(to_t, $3)
   where ingest = $1 and (ingest, from_t) = (
     select ingest, from_t from watch_marks where ingest = $1 and from_t <= $2 order by from_t desc limit 1)
   and to_t >= $2`,
);

const INSERT = statement(
  'watch-mark-insert',
  `insert into watch_marks (ingest, from_t, to_t) values ($1, $2, $3)
   on conflict (ingest, from_t) do update set to_t = greatest(watch_marks.to_t, excluded.to_t)`,
);

/** No sample tells a site that nobody listened before a new mark. */
const WAKE_SITES = statement(
  'watch-mark-wake-sites',
  "insert into work_items (subject_id, earliest) select id, 'infinity' from subjects where kind = 'site'",
);

export async function writeWatchMark(queries: Queries, mark: WatchMark): Promise<void> {
  const values = [mark.ingest, timeParameter(mark.from), timeParameter(mark.to)];
  if ((await queries.run(EXTEND, values)) > 0) return;
  await queries.run(INSERT, values);
  await queries.run(WAKE_SITES, []);
}

const READ = statement(
  'watch-marks-read',
  `select lower(span) as "from", upper(span) as "to" from (
     select unnest(range_agg(tstzrange(from_t, to_t, '[]'))) as span from watch_marks where to_t > $1
   ) as spans order by 1`,
);

/** Watched time that ends after `from`: the union over every ingest. */
export async function readWatch(queries: Queries, from: Instant): Promise<WatchCoverage> {
  const spans = await queries.many<{ from: Instant; to: Instant }>(READ, [timeParameter(from)]);
  return { spans };
}

const LAST = statement('watch-marks-last', 'select max(to_t) as last from watch_marks');

/** Through when anything was watched by any ingest; null: no ingest has ever run. */
export const readLastMark = async (queries: Queries): Promise<Instant | null> =>
  (await queries.one<{ last: Instant | null }>(LAST)).last;
