import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int4Array, timeArray } from './values.ts';

/** How late a gateway's messages came within one minute of arrival: ms from claimed time to arrival. */
export interface ArrivalRow {
  readonly site: string;
  readonly gateway: string;
  readonly minute: Instant;
  readonly count: number;
  readonly leastMs: number;
  readonly medianMs: number;
}

/**
 * Diagnostics only, never an event. Medians of parts can't give the median of the whole: theirs, weighted by their counts,
 * is near enough to see a clock that is off or an uplink that lags.
 */
const WRITE = statement(
  'arrivals-write',
  `insert into arrivals as a (site, gateway, minute, count, least_ms, median_ms)
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
