import type { Interval } from '../shared/telemetry/interval.ts';
import type { Instant } from '../shared/base/instant.ts';
import { BEGINNING, NEVER } from '../shared/inference/horizon.ts';
import type { ClockShift } from '../shared/telemetry/clock-shifts.ts';
import { statement, type Queries } from './pool.ts';
import type { EdgeRow } from './record-merge.ts';
import type { RecordSource } from './record.ts';
import { float8Array, int2Array, int4Array, timeArray, timeParameter } from './values.ts';

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

/** No number is NaN on the wire and null in the table. What really changed is work for whoever reads the point. */
const WRITE = statement(
  'intervals-write',
  `with changed as (insert into intervals as i (point_id, from_t, t, least, most, mean, quality)
   select point_id, from_t, t, least, most, nullif(mean, 'NaN'), quality
   from unnest($1::int4[], $2::timestamptz[], $3::timestamptz[], $4::float8[], $5::float8[], $6::float8[], $7::int2[])
     as given(point_id, from_t, t, least, most, mean, quality)
   on conflict (point_id, t, from_t) do update
     set least = ${LEAST}, most = ${MOST}, mean = ${MEAN}, quality = ${QUALITY}
     where i.least <> ${LEAST} or i.most <> ${MOST} or i.mean is distinct from ${MEAN} or i.quality <> ${QUALITY}
     returning point_id, t
   ), woken as (
     insert into work_items (subject_id, earliest, because)
     select ps.subject_id, min(c.t), jsonb_build_object('point', (array_agg(c.point_id order by c.t))[1])
     from changed c join point_subjects ps using (point_id) group by ps.subject_id
   )
   select count(*)::int as changed from changed`,
);

/** Rows must be sorted by (point, to, from) and each triple once. Answers how many were new or changed. */
export async function writeIntervals(queries: Queries, rows: readonly IntervalRow[]): Promise<number> {
  if (rows.length === 0) return 0;
  const { changed } = await queries.one<{ changed: number }>(WRITE, [
    int4Array(rows.map((row) => row.pointId)),
    timeArray(rows.map((row) => row.from)),
    timeArray(rows.map((row) => row.to)),
    float8Array(rows.map((row) => row.least)),
    float8Array(rows.map((row) => row.most)),
    float8Array(rows.map((row) => row.mean ?? NaN)),
    int2Array(rows.map((row) => row.quality)),
  ]);
  return changed;
}

/** One ordered, bounded scan of the primary key for each source and each stretch of its clock. */
const READ = statement(
  'intervals-read',
  `select s.place::int as place, i.from_t as "from", i.t as "to", i.least, i.most, i.mean, i.quality
   from unnest($1::int4[], $2::timestamptz[], $3::timestamptz[], $4::timestamptz[])
     with ordinality as s(point_id, behind, since, before, place),
     lateral (
       select * from intervals where point_id = s.point_id and t > s.behind and t >= s.since and t < s.before
       order by t, from_t limit $5
     ) i`,
);

/** Intervals that end after an instant, as rows at their ends, on corrected clocks; at most `limit` of each source. */
export async function readIntervalRows(
  queries: Queries,
  sources: readonly Pick<RecordSource, 'pointId' | 'shifts' | 'hasIntervals'>[],
  after: Instant,
  limit: number,
): Promise<EdgeRow[]> {
  const stretches = sources.flatMap(({ pointId, shifts, hasIntervals }, source) =>
    pointId === null || !hasIntervals
      ? []
      : (shifts.length > 0 ? shifts : STEADY).map((shift) => ({ ...shift, pointId, source })),
  );
  if (stretches.length === 0) return [];
  const rows = await queries.many<Interval & { place: number }>(READ, [
    int4Array(stretches.map(({ pointId }) => pointId)),
    timeArray(stretches.map(({ by }) => Math.max(after - by, BEGINNING))),
    timeArray(stretches.map(({ from }) => Math.max(from, BEGINNING))),
    timeArray(stretches.map(({ before }) => Math.min(before, NEVER))),
    limit,
  ]);
  return rows
    .map(({ place, ...interval }) => {
      const { source, by } = stretches[place - 1]!;
      const moved = { ...interval, from: interval.from + by, to: interval.to + by };
      return { source, t: moved.to, interval: moved };
    })
    .sort((a, b) => a.t - b.t || a.source - b.source || a.interval.from - b.interval.from);
}

/** A clock without offsets. */
const STEADY: readonly ClockShift[] = [{ from: -Infinity, before: Infinity, by: 0 }];

const READ_STORED = statement(
  'intervals-read-stored',
  `select from_t as "from", t as "to", least, most, mean, quality from intervals
   where point_id = $1 and t >= $2 and t < $3 and (t, from_t) > ($4, $5) order by t, from_t limit $6`,
);

export interface StoredIntervals {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
  /** the last that was read; null: from the first */
  readonly after: Interval | null;
  readonly limit: number;
}

/** Those of a point that end within the stretch, as they came, in order of their ends. */
export const readStoredIntervals = (
  queries: Queries,
  { pointId, from, before, after, limit }: StoredIntervals,
): Promise<Interval[]> =>
  queries.many(READ_STORED, [
    pointId,
    timeParameter(from),
    timeParameter(before),
    timeParameter(after?.to ?? -Infinity),
    timeParameter(after?.from ?? -Infinity),
    limit,
  ]);
