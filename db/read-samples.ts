import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

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

/** Pixels are numbered from `origin`, both in µs; a sample outside the range or not good draws nothing. */
const DRAWN = statement(
  'samples-drawn',
  `select min(t) as t, min(v) as least, max(v) as most, sum(v) as sum, count(*) as count,
     (max(array[extract(epoch from t)::float8, v]))[2] as last from (
     select t, value * $6::float8 + $7::float8 as v from samples
     where point_id = $1 and t >= $2 and t < $3 and quality & 3 = 0
   ) s where v between $8::float8 and $9::float8
   group by floor((extract(epoch from t) * 1e6 - $4::float8) / $5::float8) order by 1 limit 20000`,
);

export const readDrawn = (
  queries: Queries,
  piece: DrawnPiece,
  pixels: { readonly origin: Instant; readonly width: number },
  scaled: { readonly scale: number; readonly offset: number; readonly range: readonly [number, number] },
): Promise<DrawnValue[]> =>
  queries.many<DrawnValue>(DRAWN, [
    piece.pointId,
    timeParameter(piece.from),
    timeParameter(piece.before),
    pixels.origin,
    pixels.width,
    scaled.scale,
    scaled.offset,
    scaled.range[0],
    scaled.range[1],
  ]);

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
