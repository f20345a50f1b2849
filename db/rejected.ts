import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { int4Array, timeArray, timeParameter } from './values.ts';

/** An entry set aside: what came, where, and why it couldn't be taken (contract 1.4). */
export interface RejectedRow {
  readonly receivedAt: Instant;
  readonly topic: string;
  readonly reason: string;
  readonly detail: string;
  /** whole, or its first bytes */
  readonly payload: Uint8Array;
  /** of the whole */
  readonly payloadBytes: number;
}

/** The store's bounds: 7 days, and so many rows and bytes; the oldest go first. */
export const REJECTED_DAYS = 7;
const REJECTED_ROWS = 100_000;
const REJECTED_BYTES = 256 * 1024 * 1024;

const WRITE = statement(
  'rejected-write',
  `insert into rejected (received_at, topic, reason, detail, payload, payload_bytes)
   select * from unnest($1::timestamptz[], $2::text[], $3::text[], $4::text[], $5::bytea[], $6::int4[])`,
);

export async function writeRejected(queries: Queries, rows: readonly RejectedRow[]): Promise<void> {
  if (rows.length === 0) return;
  await queries.run(WRITE, [
    timeArray(rows.map((row) => row.receivedAt)),
    rows.map((row) => row.topic),
    rows.map((row) => row.reason),
    rows.map((row) => row.detail),
    rows.map((row) => row.payload),
    int4Array(rows.map((row) => row.payloadBytes)),
  ]);
}

const TRIM = statement(
  'rejected-trim',
  `delete from rejected where received_at < $1::timestamptz - make_interval(days => $2) or id <= (
     select coalesce(max(id), 0) from (
       select id, row_number() over newest as place, sum(octet_length(payload)) over newest as bytes
       from rejected window newest as (order by id desc)
     ) as placed where place > $3 or bytes > $4
   )`,
);

/** Brings the store back within its bounds; answers how many entries went. */
export const trimRejected = (queries: Queries, now: Instant): Promise<number> =>
  queries.run(TRIM, [timeParameter(now), REJECTED_DAYS, REJECTED_ROWS, REJECTED_BYTES]);
