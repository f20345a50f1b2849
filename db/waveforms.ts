import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { float8Array, int4Array, timeArray, timeParameter } from './values.ts';

/** Instantaneous values of a voltage or a current, as they were sent. */
export interface WaveformRow {
  readonly pointId: number;
  readonly t: Instant;
  readonly stepSeconds: number;
  readonly scale: number;
  readonly values: Float32Array;
}

/**
 * The same waveform again changes nothing. Of different ones for a point and instant the longer stays, of two as long the
 * one whose bytes come later: which came first doesn't matter.
 */
const WRITE = statement(
  'waveforms-write',
  `insert into waveforms as w (point_id, t, step_seconds, scale, values)
   select * from unnest($1::int4[], $2::timestamptz[], $3::float8[], $4::float8[], $5::bytea[])
   on conflict (point_id, t) do update
     set step_seconds = excluded.step_seconds, scale = excluded.scale, values = excluded.values
     where (octet_length(excluded.values), excluded.values, excluded.step_seconds, excluded.scale)
         > (octet_length(w.values), w.values, w.step_seconds, w.scale)`,
);

/** Rows must be sorted by (point, t), each pair once. Answers how many were new or changed. */
export async function writeWaveforms(queries: Queries, rows: readonly WaveformRow[]): Promise<number> {
  if (rows.length === 0) return 0;
  return queries.run(WRITE, [
    int4Array(rows.map((row) => row.pointId)),
    timeArray(rows.map((row) => row.t)),
    float8Array(rows.map((row) => row.stepSeconds)),
    float8Array(rows.map((row) => row.scale)),
    rows.map((row) => bytesOf(row.values)),
  ]);
}

/** As the write would: of two for one point and instant the one that stays. */
export function laterWaveform(a: WaveformRow, b: WaveformRow): WaveformRow {
  const byLength = a.values.length - b.values.length;
  const order = byLength || Buffer.compare(bytesOf(a.values), bytesOf(b.values));
  return (order || a.stepSeconds - b.stepSeconds || a.scale - b.scale) >= 0 ? a : b;
}

function bytesOf(values: Float32Array): Buffer {
  const bytes = Buffer.alloc(values.length * 4);
  values.forEach((value, i) => bytes.writeFloatLE(value, i * 4));
  return bytes;
}

function valuesOf(bytes: Buffer): Float32Array {
  return Float32Array.from({ length: bytes.length / 4 }, (_, i) => bytes.readFloatLE(i * 4));
}

const READ = statement(
  'waveforms-read',
  `select t, step_seconds as "stepSeconds", scale, values from waveforms
   where point_id = $1 and t >= $2::timestamptz - make_interval(secs => $5) and t < $3
     and t + make_interval(secs => step_seconds * (octet_length(values) / 4)) > $2
     and ($4::timestamptz is null or t > $4)
   order by t limit $6`,
);

export interface WaveformQuery {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
  readonly after: Instant | null;
  /** how long the longest that is taken lasts */
  readonly longestSeconds: number;
  readonly limit: number;
}

/** Those that reach into the stretch, oldest first. */
export async function readWaveforms(queries: Queries, asked: WaveformQuery): Promise<WaveformRow[]> {
  const rows = await queries.many<Omit<WaveformRow, 'values' | 'pointId'> & { values: Buffer }>(READ, [
    asked.pointId,
    timeParameter(asked.from),
    timeParameter(asked.before),
    asked.after === null ? null : timeParameter(asked.after),
    asked.longestSeconds,
    asked.limit,
  ]);
  return rows.map((row) => ({ ...row, pointId: asked.pointId, values: valuesOf(row.values) }));
}

/** The store's bound beside its days: so many bytes of values; the oldest go first. */
const MOST_BYTES = 2 * 1024 ** 3;

const TRIM = statement(
  'waveforms-trim',
  `delete from waveforms w using (
     select point_id, t, sum(octet_length(values)) over (order by t desc, point_id) as bytes from waveforms
   ) as placed
   where w.point_id = placed.point_id and w.t = placed.t
     and (w.t < $1::timestamptz - make_interval(days => $2) or placed.bytes > $3)`,
);

/** Brings the store back within its bounds; answers how many went. */
export const trimWaveforms = (queries: Queries, now: Instant, days: number): Promise<number> =>
  queries.run(TRIM, [timeParameter(now), days, MOST_BYTES]);
