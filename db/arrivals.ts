import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int4Array, timeArray, timeParameter } from './values.ts';

/** How late a gateway's messages came within one minute of arrival: ms from claimed time to arrival. */
export interface ArrivalRow {
  readonly site: string;
  readonly gateway: string;
  readonly minute: Instant;
  readonly count: number;
  readonly leastMs: number;
  readonly medianMs: number;
}

/** How long arrivals are kept. */
const KEPT_DAYS = 30;

/**
 * Diagnostics only, never an event. Medians of parts can't give the median of the whole: theirs, weighted by their counts,
 * is near enough to see a clock that is off or an uplink that lags.
 */
const WRITE = statement(
  'arrivals-write',
  `with pruned as (
     delete from arrivals old using (select distinct site, gateway from unnest($1::text[], $2::text[]) as g(site, gateway)) g
     where old.site = g.site and old.gateway = g.gateway and old.minute < now() - interval '${KEPT_DAYS} days'
   )
   insert into arrivals as a (site, gateway, minute, count, least_ms, median_ms)
   select * from unnest($1::text[], $2::text[], $3::timestamptz[], $4::int4[], $5::float8[], $6::float8[])
   on conflict (site, gateway, minute) do update set
     count = a.count + excluded.count, least_ms = least(a.least_ms, excluded.least_ms),
     median_ms = (a.median_ms * a.count + excluded.median_ms * excluded.count) / (a.count + excluded.count)`,
);

/** Rows must be sorted by (site, gateway, minute) and each triple once. */
export async function writeArrivals(queries: Queries, rows: readonly ArrivalRow[]): Promise<void> {
  if (rows.length === 0) return;
  await queries.run(WRITE, [
    rows.map((row) => row.site),
    rows.map((row) => row.gateway),
    timeArray(rows.map((row) => row.minute)),
    int4Array(rows.map((row) => row.count)),
    float8Array(rows.map((row) => row.leastMs)),
    float8Array(rows.map((row) => row.medianMs)),
  ]);
}

/** Arrivals in stretches of ten minutes: how many messages, and the least lateness among them, ms. */
export interface ArrivalStretch {
  readonly gateway: string;
  readonly at: Instant;
  readonly count: number;
  readonly leastMs: number;
}

export const STRETCH_SECONDS = 600;

const READ = statement(
  'arrivals-read',
  `select gateway, to_timestamp(floor(extract(epoch from minute) / ${STRETCH_SECONDS}) * ${STRETCH_SECONDS}) as at,
     sum(count)::int as count, min(least_ms) as "leastMs"
   from arrivals where site = $1 and minute >= $2 group by 1, 2 order by 1, 2 limit $3`,
);

/** In order of time for each gateway; at most `limit` stretches. */
export const readArrivals = (
  queries: Queries,
  site: string,
  from: Instant,
  limit: number,
): Promise<ArrivalStretch[]> => queries.many<ArrivalStretch>(READ, [site, timeParameter(from), limit]);
