import { SECOND, type Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * About how many rows of a site's record lie after an instant, without counting them all: those of its newest hour are counted,
 * and taken for every hour.
 */
const HOUR = 3600 * SECOND;

const EXTENT = statement(
  'extent-of-site',
  `select min(o.t) as oldest, max(n.t) as newest from points p
   left join lateral (select t from samples where point_id = p.id order by t limit 1) o on true
   left join lateral (select t from samples where point_id = p.id order by t desc limit 1) n on true
   where p.site = $1`,
);
const COUNT = statement(
  'extent-count',
  `select count(*) as rows from points p join samples s on s.point_id = p.id
   where p.site = $1 and s.t > $2 and s.t <= $3`,
);

export interface Extent {
  readonly rows: number;
  /** where the stretch begins; null: nothing was heard since */
  readonly from: Instant | null;
  readonly to: Instant | null;
}

export async function readExtent(queries: Queries, site: string, after: Instant): Promise<Extent> {
  const { oldest, newest } = await queries.one<{ oldest: Instant | null; newest: Instant | null }>(EXTENT, [
    site,
  ]);
  if (oldest === null || newest === null || newest < after) return { rows: 0, from: null, to: null };
  const from = Math.max(after, oldest);
  const counted = Math.max(from - 1, newest - HOUR);
  const { rows } = await queries.one<{ rows: number }>(COUNT, [
    site,
    timeParameter(counted),
    timeParameter(newest),
  ]);
  const share = Math.max(1, (newest - from) / Math.max(1, newest - counted));
  return { rows: Math.round(rows * share), from, to: newest };
}
