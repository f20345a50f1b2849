import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { int4Array, timeParameter } from './values.ts';

/** How telemetry comes in, as the page about it reads it. Every question is bounded by time and by rows. */
export interface PointTelemetryRow {
  readonly pointId: number;
  readonly t: Instant | null;
  readonly value: number | null;
  readonly quality: number | null;
  /** samples in the ten minutes up to the last */
  readonly recent: number;
  /** of the newest within a day up to the last, at most `LOOKED_AT` */
  readonly samples: number;
  readonly first: Instant | null;
  readonly uncertain: number;
  readonly bad: number;
  readonly conflicts: number;
}

/** samples of a point that are looked at for its rate and its shares */
const LOOKED_AT = 5_000;

const POINTS = statement(
  'telemetry-points',
  `select p.point_id as "pointId", l.t, l.value, l.quality, r.*
   from unnest($1::int4[]) as p(point_id)
     left join lateral (
       select t, value, quality from samples where point_id = p.point_id order by t desc limit 1
     ) l on true
     left join lateral (
       select count(*) filter (where s.t > l.t - interval '10 minutes')::int as recent, count(*)::int as samples,
         min(s.t) as first, count(*) filter (where quality & 3 = 1)::int as uncertain,
         count(*) filter (where quality & 3 >= 2)::int as bad, count(*) filter (where quality & 4 <> 0)::int as conflicts
       from (
         select t, quality from samples
         where point_id = p.point_id and t > l.t - interval '1 day' and t <= l.t order by t desc limit ${LOOKED_AT}
       ) s
     ) r on true`,
);

export const readPointTelemetry = (
  queries: Queries,
  pointIds: readonly number[],
): Promise<PointTelemetryRow[]> => queries.many(POINTS, [int4Array(pointIds)]);

/** A silence that lasts, of a point or of a whole gateway. */
export interface OpenGap {
  readonly site: string;
  readonly gateway: string | null;
  readonly point: string | null;
  readonly since: Instant;
}

const GAPS = statement(
  'telemetry-gaps',
  `select site, body->>'gateway' as gateway, body->>'point' as point, start_latest as since from events
   where site = any($1::text[]) and kind = 'telemetry-gap' and cause in ('point-silent', 'gateway-silent')
     and end_latest is null and withdrawn_at is null
   order by site, start_latest limit 100000`,
);

export const readOpenGaps = (queries: Queries, sites: readonly string[]): Promise<OpenGap[]> =>
  queries.many(GAPS, [sites]);

/** Messages of a gateway by their arrival, ms late by the time that they claim. */
export interface LatenessRow {
  readonly site: string;
  readonly gateway: string;
  readonly recent: number;
  readonly recentMedianMs: number | null;
  readonly recentLeastMs: number | null;
  /** of the newest two minutes; null: nothing came in them */
  readonly newestMedianMs: number | null;
  readonly day: number;
  readonly dayMedianMs: number;
  readonly dayLeastMs: number;
}

const LATENESS = statement(
  'telemetry-lateness',
  `select site, gateway,
     coalesce(sum(count) filter (where minute >= $3), 0)::int as recent,
     sum(median_ms * count) filter (where minute >= $3) / sum(count) filter (where minute >= $3) as "recentMedianMs",
     min(least_ms) filter (where minute >= $3) as "recentLeastMs",
     sum(median_ms * count) filter (where minute >= $4) / sum(count) filter (where minute >= $4) as "newestMedianMs",
     sum(count)::int as day, sum(median_ms * count) / sum(count) as "dayMedianMs", min(least_ms) as "dayLeastMs"
   from arrivals where site = any($1::text[]) and minute >= $2 group by site, gateway order by site, gateway`,
);

export const readLateness = (
  queries: Queries,
  sites: readonly string[],
  since: { readonly day: Instant; readonly recent: Instant; readonly newest: Instant },
): Promise<LatenessRow[]> =>
  queries.many(LATENESS, [sites, ...[since.day, since.recent, since.newest].map(timeParameter)]);

/** Which entries that were set aside: all of them, or those below these topics. */
export type Below = readonly string[] | null;

export interface SetAsideRow {
  readonly reason: string;
  readonly count: number;
  readonly topics: number;
  readonly t: Instant;
  readonly topic: string;
  readonly detail: string;
  readonly payload: Buffer;
  readonly payloadBytes: number;
}

const IN_SCOPE = `received_at >= $1 and ($2::text[] is null or topic like any($2::text[]))`;

const SET_ASIDE = statement(
  'telemetry-set-aside',
  `select g.reason, g.count, g.topics, r.received_at as t, r.topic, r.detail, substring(r.payload for 1024) as payload,
     r.payload_bytes as "payloadBytes"
   from (
     select reason, count(*)::int as count, count(distinct topic)::int as topics, max(id) as newest
     from rejected where ${IN_SCOPE} group by reason
   ) g join rejected r on r.id = g.newest
   order by g.count desc, g.reason limit 50`,
);
const SET_ASIDE_TOPICS = statement(
  'telemetry-set-aside-topics',
  `select count(distinct topic)::int as topics from rejected where ${IN_SCOPE}`,
);

export async function readSetAside(
  queries: Queries,
  since: Instant,
  below: Below,
): Promise<{ readonly reasons: readonly SetAsideRow[]; readonly topics: number }> {
  const patterns = below?.map((topic) => `${topic.replace(/[\\%_]/g, '\\$&')}/%`) ?? null;
  const values = [timeParameter(since), patterns];
  const { topics } = await queries.one<{ topics: number }>(SET_ASIDE_TOPICS, values);
  return { reasons: await queries.many<SetAsideRow>(SET_ASIDE, values), topics };
}
