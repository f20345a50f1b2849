import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';

/** What the service says of itself and of its store. */
const VERSION = statement(
  'service-version',
  `select current_setting('server_version') as version,
     (select extversion from pg_extension where extname = 'timescaledb') as timescale`,
);

export const readDatabaseVersion = (
  queries: Queries,
): Promise<{ version: string; timescale: string | null }> => queries.one(VERSION);

export interface StoppedRow {
  readonly site: string;
  readonly kind: string;
  readonly device: string;
  readonly reason: string;
}

const STOPPED = statement(
  'service-stopped',
  `select s.site, s.kind, s.device, st.stopped as reason from subject_states st join subjects s on s.id = st.subject_id
   where st.stopped is not null and ($1::text is null or s.site = $1) order by s.site, s.kind, s.device limit 1000`,
);

/** Subjects on which inference has stopped; at most 1,000. */
export const readStopped = (queries: Queries, site: string | null): Promise<StoppedRow[]> =>
  queries.many<StoppedRow>(STOPPED, [site]);

export interface RejectedRow {
  readonly id: number;
  readonly receivedAt: Instant;
  readonly topic: string;
  readonly reason: string;
  readonly detail: string;
  readonly payload: Buffer;
  readonly payloadBytes: number;
}

const REJECTED = statement(
  'service-rejected',
  `select id, received_at as "receivedAt", topic, reason, detail, substring(payload for 1024) as payload,
     payload_bytes as "payloadBytes"
   from rejected where ($1::text is null or topic = $1 or topic like $2)
     and ($3::timestamptz is null or received_at >= $3) and ($4::timestamptz is null or received_at < $4)
     and ($5::text is null or reason = $5)
     and ($6::bigint is null or id < $6) order by id desc limit $7`,
);

export interface RejectedQuery {
  /** a topic, or what it begins with */
  readonly topic: string | null;
  readonly from: string | null;
  readonly to: string | null;
  readonly reason: string | null;
  /** entries older than this one */
  readonly before: number | null;
  readonly limit: number;
}

/** Newest first. */
export const readRejected = (queries: Queries, asked: RejectedQuery): Promise<RejectedRow[]> =>
  queries.many<RejectedRow>(REJECTED, [
    asked.topic,
    asked.topic === null ? null : `${asked.topic.replace(/[\\%_]/g, '\\$&')}/%`,
    asked.from,
    asked.to,
    asked.reason,
    asked.before,
    asked.limit,
  ]);

const LAST_HEARD = statement(
  'service-last-heard',
  'select point_id as "pointId", heard_at as t, value, why from last_heard where point_id = any($1::int4[])',
);

export const readLastHeard = (
  queries: Queries,
  pointIds: readonly number[],
): Promise<{ pointId: number; t: Instant; value: number; why: string }[]> =>
  queries.many(LAST_HEARD, [pointIds]);
