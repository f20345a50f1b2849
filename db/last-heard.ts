import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int4Array, timeArray } from './values.ts';

/** Values without a time that may have waited on their way (contract 1.4): shown as last heard, never folded. */
export interface HeardRow {
  readonly pointId: number;
  readonly heardAt: Instant;
  readonly value: number;
  readonly why: string;
}

const WRITE = statement(
  'last-heard-write',
  `insert into last_heard as h (point_id, heard_at, value, why)
   select * from unnest($1::int4[], $2::timestamptz[], $3::float8[], $4::text[])
   on conflict (point_id) do update set heard_at = excluded.heard_at, value = excluded.value, why = excluded.why
   where h.heard_at < excluded.heard_at`,
);

/** Rows must be sorted by point and each point once. */
export async function writeLastHeard(queries: Queries, rows: readonly HeardRow[]): Promise<void> {
  if (rows.length === 0) return;
  await queries.run(WRITE, [
    int4Array(rows.map((row) => row.pointId)),
    timeArray(rows.map((row) => row.heardAt)),
    float8Array(rows.map((row) => row.value)),
    rows.map((row) => row.why),
  ]);
}
