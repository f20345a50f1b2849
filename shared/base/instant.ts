/**
 * Instants. One representation everywhere inside: a whole number of microseconds since 1970-01-01T00:00:00Z.
 * Whole numbers compare and subtract exactly; 2^53 microseconds reach the year 2255.
 * A claimed time is rounded once, on the way in, to the microsecond (contract 1.1).
 */
export type Instant = number;

/** One second, as a difference of instants. */
export const SECOND = 1_000_000;
export const MILLISECOND = 1_000;

/** Seconds (fractions allowed) as a difference of instants, rounded to the microsecond. */
export const seconds = (count: number): number => Math.round(count * SECOND);

/** A difference of instants in seconds. */
export const inSeconds = (difference: number): number => difference / SECOND;

/** Unix milliseconds, fractions allowed, rounded to the microsecond. */
export const instantFromMilliseconds = (milliseconds: number): Instant =>
  Math.round(milliseconds * MILLISECOND);

/** Instants lie between this and its opposite: the years 1684 to 2255, where every microsecond is a number of its own. */
export const REACH = 9_000_000_000_000_000;

const ISO =
  /^(\d{4})-(\d{2})-(\d{2})[Tt](\d{2}):(\d{2})(?::(\d{2})(?:[.,](\d{1,12}))?)?([Zz]|[+-]\d{2}:?\d{2})$/;

/**
 * An ISO 8601 date and time with a zone (`Z` or an offset), rounded to the microsecond.
 * Answers null for anything else: no zone, no such day, no such hour, out of reach.
 */
export function parseInstant(text: string): Instant | null {
  const parts = ISO.exec(text);
  if (!parts) return null;
  const [, year, month, day, hour, minute, second = '0', fraction = '', zone = 'Z'] = parts;
  const local = Date.UTC(+year!, +month! - 1, +day!, +hour!, +minute!, +second);
  const date = new Date(local);
  const real =
    date.getUTCFullYear() === +year! &&
    date.getUTCMonth() === +month! - 1 &&
    date.getUTCDate() === +day! &&
    +hour! < 24 &&
    +minute! < 60 &&
    +second < 60;
  if (!real) return null;
  const micros = Math.round(Number(`0.${fraction || '0'}`) * SECOND);
  const instant = local * MILLISECOND + micros - offsetMinutes(zone) * 60 * SECOND;
  return Math.abs(instant) < REACH ? instant : null;
}

function offsetMinutes(zone: string): number {
  if (zone === 'Z' || zone === 'z') return 0;
  const digits = zone.slice(1).replace(':', '');
  const minutes = +digits.slice(0, 2) * 60 + +digits.slice(2);
  return zone[0] === '-' ? -minutes : minutes;
}

/** ISO 8601 in UTC, to the millisecond, or to the microsecond where there is one. */
export function formatInstant(instant: Instant): string {
  const milliseconds = Math.floor(instant / MILLISECOND);
  const rest = instant - milliseconds * MILLISECOND;
  const text = new Date(milliseconds).toISOString();
  return rest === 0 ? text : `${text.slice(0, -1)}${String(rest).padStart(3, '0')}Z`;
}
