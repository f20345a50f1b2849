import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { readParts, ROLLUP } from './rollups.ts';
import { timeArray, timeOrNull, timeParameter } from './values.ts';

/** Samples as pages read them. Times here are claimed times, as stored: the clock's offset is the reader's affair. */
export interface SampleRow {
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
}

const POINT = statement(
  'samples-point',
  'select id from points where site = $1 and device = $2 and signal = $3',
);

export const readPointId = async (
  queries: Queries,
  site: string,
  device: string,
  signal: string,
): Promise<number | null> => (await queries.maybe<{ id: number }>(POINT, [site, device, signal]))?.id ?? null;

const EXACT = statement(
  'samples-exact',
  `select t, value, quality from samples
   where point_id = $1 and t >= $2 and t < $3 and ($4::timestamptz is null or t > $4) order by t limit $5`,
);

export interface SampleQuery {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
  readonly after: Instant | null;
  readonly limit: number;
}

export const readSamples = (queries: Queries, asked: SampleQuery): Promise<SampleRow[]> =>
  queries.many<SampleRow>(EXACT, [
    asked.pointId,
    timeParameter(asked.from),
    timeParameter(asked.before),
    timeOrNull(asked.after),
    asked.limit,
  ]);

const LAST_BEFORE = statement(
  'samples-last-before',
  'select t, value, quality from samples where point_id = $1 and t < $2 order by t desc limit 1',
);
const NEWEST = statement(
  'samples-newest',
  `select p.point_id as "pointId", s.t from unnest($1::int4[]) as p(point_id),
     lateral (select t from samples where point_id = p.point_id order by t desc limit 1) s`,
);
const OLDEST = statement(
  'samples-oldest',
  `select min(s.t) as t from unnest($1::int4[]) as p(point_id),
     lateral (select t from samples where point_id = p.point_id order by t limit 1) s`,
);

export const readLastBefore = (
  queries: Queries,
  pointId: number,
  before: Instant,
): Promise<SampleRow | null> => queries.maybe<SampleRow>(LAST_BEFORE, [pointId, timeParameter(before)]);

export const readNewest = (
  queries: Queries,
  pointIds: readonly number[],
): Promise<{ pointId: number; t: Instant }[]> => queries.many(NEWEST, [pointIds]);

export const readOldest = async (queries: Queries, pointIds: readonly number[]): Promise<Instant | null> =>
  (await queries.one<{ t: Instant | null }>(OLDEST, [pointIds])).t;

/** A stretch of claimed time in which one scale, range and clock offset hold. */
export interface DrawnPiece {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
}

export interface DrawnValue {
  readonly t: Instant;
  readonly least: number;
  readonly most: number;
  readonly sum: number;
  readonly count: number;
  /** the value of the newest sample in the pixel */
  readonly last: number;
}

/** Pixels of `width` µs, counted from `origin`: whole µs both. */
export interface Pixels {
  readonly origin: Instant;
  readonly width: number;
}

/**
 * Samples of the exact stretches, rollups of the others; a rollup that reaches outside the range is read from its samples.
 * A sample outside the range or not good draws nothing. `offset 0` keeps the planner from joining samples it needn't read.
 */
const DRAWN = statement(
  'samples-drawn',
  `with rolled as materialized (
     select r.*, least(least * $8, most * $8) + $9 as low, greatest(least * $8, most * $8) + $9 as high
     from unnest($4::timestamptz[], $5::timestamptz[]) as x(a, b), lateral (
       select * from sample_rollups where point_id = $1 and from_t >= x.a and from_t < x.b offset 0
     ) r
   ), parts as (
     select t as first_t, t as last_t, v as least, v as most, v as total, 1 as good, v as last_value
     from unnest($2::timestamptz[], $3::timestamptz[]) as x(a, b), lateral (
       select t, value * $8::float8 + $9::float8 as v from samples
       where point_id = $1 and t >= x.a and t < x.b and quality & 3 = 0 offset 0
     ) s where v between $10::float8 and $11::float8
     union all
     select first_t, last_t, low, high, total * $8 + good * $9, good, last_value * $8 + $9
     from rolled where low >= $10 and high <= $11
     union all
     select s.t, s.t, v, v, v, 1, v
     from (select from_t from rolled where low < $10 or high > $11) r, lateral (
       select t, value * $8 + $9 as v from samples
       where point_id = $1 and t >= r.from_t and t < r.from_t + interval '5 minutes' and quality & 3 = 0 offset 0
     ) s where v between $10 and $11
   )
   select min(first_t) as t, min(least) as least, max(most) as most, sum(total) as sum, sum(good)::int as count,
     (max(array[extract(epoch from last_t)::float8, last_value]))[2] as last
   from parts group by date_bin($7::int8 * interval '1 microsecond', first_t, $6) order by 1 limit 20000`,
);

/** Rollups are read where they fill pixels: whole five minutes, on the clock's own grid. */
const isOnGrid = ({ origin, width }: Pixels): boolean => origin % ROLLUP === 0 && width % ROLLUP === 0;

export async function readDrawn(
  queries: Queries,
  piece: DrawnPiece,
  pixels: Pixels,
  scaled: { readonly scale: number; readonly offset: number; readonly range: readonly [number, number] },
): Promise<DrawnValue[]> {
  const { exact, rolled } = isOnGrid(pixels)
    ? await readParts(queries, piece.pointId, piece)
    : { exact: [piece], rolled: [] };
  return queries.many<DrawnValue>(DRAWN, [
    piece.pointId,
    timeArray(exact.map(({ from }) => from)),
    timeArray(exact.map(({ before }) => before)),
    timeArray(rolled.map(({ from }) => from)),
    timeArray(rolled.map(({ before }) => before)),
    timeParameter(pixels.origin),
    pixels.width,
    scaled.scale,
    scaled.offset,
    scaled.range[0],
    scaled.range[1],
  ]);
}

export interface StepRow {
  readonly t: Instant;
  /** the sample before it; null: there was none in the stretch */
  readonly before: Instant | null;
  /** 1 closed, 0 open, null: not good, decides nothing */
  readonly closed: 0 | 1 | null;
}

const STEPS = statement(
  'samples-steps',
  `select t, before, closed from (
     select t, closed, lag(t) over w as before, lag(closed) over w as was, row_number() over w as number from (
       select t, case when quality & 3 = 0 then (value >= 0.5)::int end as closed from samples
       where point_id = $1 and t >= $2 and t < $3 and (quality & 3 = 0 or not $5)
     ) s window w as (order by t)
   ) steps where number = 1 or closed is distinct from was order by t limit $4`,
);

/** Where a contact's value changes, the first sample included; `onlyGood` passes over those that decide nothing. */
export const readSteps = (
  queries: Queries,
  piece: DrawnPiece,
  { limit, onlyGood }: { readonly limit: number; readonly onlyGood: boolean },
): Promise<StepRow[]> =>
  queries.many<StepRow>(STEPS, [
    piece.pointId,
    timeParameter(piece.from),
    timeParameter(piece.before),
    limit,
    onlyGood,
  ]);

const NEW_SINCE = statement(
  'samples-new-since',
  `select p.point_id as "pointId", s.t, s.value, s.quality
   from unnest($1::int4[], $2::timestamptz[]) as p(point_id, after),
     lateral (select t, value, quality from samples where point_id = p.point_id and t > p.after order by t limit $3) s`,
);

/** Samples of several points, each after an instant of its own. */
export const readNewSince = (
  queries: Queries,
  points: readonly { readonly pointId: number; readonly after: Instant }[],
  limit: number,
): Promise<(SampleRow & { pointId: number })[]> =>
  queries.many(NEW_SINCE, [
    points.map(({ pointId }) => pointId),
    points.map(({ after }) => timeParameter(after)),
    limit,
  ]);
