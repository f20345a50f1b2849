import type { Interval } from '../shared/telemetry/interval.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int2Array, int4Array, timeArray } from './values.ts';

export interface IntervalRow extends Interval {
  readonly pointId: number;
}

/** `mergeIntervals` of shared/telemetry/interval.ts, in SQL. */
const DIFFER = `(i.least <> excluded.least or i.most <> excluded.most or i.mean is distinct from excluded.mean
  or ((i.quality | excluded.quality) & 4) <> 0)`;
const LEAST = 'least(i.least, excluded.least)';
const MOST = 'greatest(i.most, excluded.most)';
const MEAN = 'least(i.mean, excluded.mean)';
const QUALITY = `(greatest(i.quality & 3, excluded.quality & 3, case when ${DIFFER} then 1 else 0 end)
  | case when ${DIFFER} then 4 else 0 end)::smallint`;

/** No number is NaN on the wire and null in the table. */
const WRITE = statement(
  'intervals-write',
  `insert into intervals as i (point_id, from_t, t, least, most, mean, quality)
   select point_id, from_t, t, least, most, nullif(mean, 'NaN'), quality
   from unnest($1::int4[], $2::timestamptz[], $3::timestamptz[], $4::float8[], $5::float8[], $6::float8[], $7::int2[])
     as given(point_id, from_t, t, least, most, mean, quality)
   on conflict (point_id, t, from_t) do update
     set least = ${LEAST}, most = ${MOST}, mean = ${MEAN}, quality = ${QUALITY}
     where i.least <> ${LEAST} or i.most <> ${MOST} or i.mean is distinct from ${MEAN} or i.quality <> ${QUALITY}`,
);

/** Rows must be sorted by (point, to, from) and each triple once. Answers how many were new or changed. */
export async function writeIntervals(queries: Queries, rows: readonly IntervalRow[]): Promise<number> {
  if (rows.length === 0) return 0;
  return queries.run(WRITE, [
    int4Array(rows.map((row) => row.pointId)),
    timeArray(rows.map((row) => row.from)),
    timeArray(rows.map((row) => row.to)),
    float8Array(rows.map((row) => row.least)),
    float8Array(rows.map((row) => row.most)),
    float8Array(rows.map((row) => row.mean ?? NaN)),
    int2Array(rows.map((row) => row.quality)),
  ]);
}
