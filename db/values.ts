import pg from 'pg';
import { formatInstant, parseInstant, type Instant } from '../shared/base/instant.ts';

/**
 * Values on their way to and from PostgreSQL. Instants are whole microseconds on both sides, so nothing is rounded;
 * PostgreSQL counts from 2000-01-01, we from 1970-01-01. Every connection speaks UTC (pool.ts).
 */
export const POSTGRES_EPOCH: Instant = 946_684_800_000_000;

const OID = { int8: 20, int2: 21, int4: 23, float8: 701, timestamptz: 1184 } as const;

/** A parameter of type timestamptz; ±Infinity are PostgreSQL's own infinities. */
export function timeParameter(instant: Instant): string {
  if (instant === Infinity) return 'infinity';
  return instant === -Infinity ? '-infinity' : formatInstant(instant);
}

/** As `timeParameter`, for what may be absent. */
export const timeOrNull = (instant: Instant | null): string | null =>
  instant === null ? null : timeParameter(instant);

function instantFromText(text: string): Instant {
  if (text === 'infinity') return Infinity;
  if (text === '-infinity') return -Infinity;
  const instant = parseInstant(`${text.slice(0, 10)}T${text.slice(11)}:00`);
  if (instant === null) throw new Error(`an instant out of reach came from the database: ${text}`);
  return instant;
}

const PARSERS = new Map<number, (text: string) => unknown>([
  [OID.int8, Number],
  [OID.timestamptz, instantFromText],
]);

/** How pg reads columns: as its defaults, but instants and whole numbers as ours. */
export const parsers = {
  getTypeParser: ((oid: number, format?: 'text' | 'binary') =>
    PARSERS.get(oid) ?? pg.types.getTypeParser(oid, format)) as typeof pg.types.getTypeParser,
};

/**
 * Columns as parameters: arrays in PostgreSQL's binary form (a Buffer goes over the wire as it is), which costs
 * neither the formatting nor the parsing of text and keeps every bit. Cast them where they are used: `$1::int4[]`.
 */
export const int4Array = (values: ArrayLike<number>): Buffer =>
  arrayOf(OID.int4, 4, values, (to, value, at) => to.writeInt32BE(value, at));

export const int2Array = (values: ArrayLike<number>): Buffer =>
  arrayOf(OID.int2, 2, values, (to, value, at) => to.writeInt16BE(value, at));

export const float8Array = (values: ArrayLike<number>): Buffer =>
  arrayOf(OID.float8, 8, values, (to, value, at) => to.writeDoubleBE(value, at));

/** Instants as timestamptz[]. */
export const timeArray = (values: ArrayLike<Instant>): Buffer =>
  arrayOf(OID.timestamptz, 8, values, (to, instant, at) => writeTime(to, instant, at));

/** 64-bit whole numbers in two words: no BigInt, and exact where a difference would leave the safe integers. */
const HIGH_WORD = 2 ** 32;
const EPOCH_HIGH = Math.floor(POSTGRES_EPOCH / HIGH_WORD);
const EPOCH_LOW = POSTGRES_EPOCH - EPOCH_HIGH * HIGH_WORD;

export function writeTime(to: Buffer, instant: Instant, at: number): void {
  if (instant === Infinity || instant === -Infinity) return writeInfinity(to, instant > 0, at);
  const high = Math.floor(instant / HIGH_WORD);
  const low = instant - high * HIGH_WORD - EPOCH_LOW;
  const borrow = low < 0 ? 1 : 0;
  to.writeInt32BE(high - EPOCH_HIGH - borrow, at);
  to.writeUInt32BE(low + borrow * HIGH_WORD, at + 4);
}

/** The greatest and the least that 64 bits hold. */
function writeInfinity(to: Buffer, isAfter: boolean, at: number): void {
  to.writeInt32BE(isAfter ? 0x7fffffff : -0x80000000, at);
  to.writeUInt32BE(isAfter ? 0xffffffff : 0, at + 4);
}

/** The instant in eight bytes of PostgreSQL's binary form. */
export const readTime = (from: DataView, at: number): Instant =>
  (from.getInt32(at) + EPOCH_HIGH) * HIGH_WORD + (from.getUint32(at + 4) + EPOCH_LOW);

const HEADER = 20;

function arrayOf(
  oid: number,
  width: number,
  values: ArrayLike<number>,
  write: (to: Buffer, value: number, at: number) => void,
): Buffer {
  const length = values.length;
  const buffer = Buffer.allocUnsafe(HEADER + length * (4 + width));
  buffer.writeInt32BE(1, 0); // dimensions
  buffer.writeInt32BE(0, 4); // no nulls
  buffer.writeUInt32BE(oid, 8);
  buffer.writeInt32BE(length, 12);
  buffer.writeInt32BE(1, 16); // first index
  for (let i = 0, at = HEADER; i < length; i++, at += 4 + width) {
    buffer.writeInt32BE(width, at);
    write(buffer, values[i]!, at + 4);
  }
  return buffer;
}
