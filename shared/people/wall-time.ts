import { MILLISECOND, type Instant } from '../base/instant.ts';

/**
 * Wall time in an IANA zone and the instants that it stands for. A wall time that occurs twice is its first occurrence;
 * one that doesn't occur is taken with the offset from before the gap (RFC 5545 section 3.3.5; handbook 7). What the
 * zones' rules are is known to the language itself (Intl).
 */
export interface WallDate {
  readonly year: number;
  /** 1 to 12 */
  readonly month: number;
  readonly day: number;
}

export interface WallTime extends WallDate {
  readonly hour: number;
  readonly minute: number;
  readonly second: number;
}

const DAY_MS = 86_400_000;
const DAY_MINUTES = 1440;

const formats = new Map<string, Intl.DateTimeFormat>();

/** One for each zone that was ever asked for: making one costs far more than using it. Throws for no zone. */
function formatOf(zone: string): Intl.DateTimeFormat {
  const known = formats.get(zone);
  if (known) return known;
  const made = new Intl.DateTimeFormat('en-US', {
    timeZone: zone,
    calendar: 'gregory',
    numberingSystem: 'latn',
    hourCycle: 'h23',
    year: 'numeric',
    month: 'numeric',
    day: 'numeric',
    hour: 'numeric',
    minute: 'numeric',
    second: 'numeric',
  });
  formats.set(zone, made);
  return made;
}

/** Is it a zone whose rules are known here. */
export function isZone(zone: string): boolean {
  try {
    formatOf(zone);
    return true;
  } catch {
    return false;
  }
}

/** What the clock on the wall shows at an instant, to the whole second. */
export function wallOf(instant: Instant, zone: string): WallTime {
  const parts: Record<string, number> = {};
  for (const { type, value } of formatOf(zone).formatToParts(Math.floor(instant / MILLISECOND)))
    parts[type] = Number(value);
  return {
    year: parts['year']!,
    month: parts['month']!,
    day: parts['day']!,
    hour: parts['hour']!,
    minute: parts['minute']!,
    second: parts['second']!,
  };
}

/** How far a zone is ahead of UTC at an instant of whole milliseconds, in ms. */
function offsetAt(milliseconds: number, zone: string): number {
  const whole = Math.floor(milliseconds / 1000) * 1000;
  return asUtc(wallOf(whole * MILLISECOND, zone)) - whole;
}

const asUtc = ({ year, month, day, hour, minute, second }: WallTime): number =>
  Date.UTC(year, month - 1, day, hour, minute, second);

/**
 * The instant of a wall time. No zone is more than 14 h from UTC, so a day either side of the reading as if it were UTC
 * lies before and after any change that could make it occur twice or never.
 */
export function instantOfWall(wall: WallTime, zone: string): Instant {
  const read = asUtc(wall);
  const [before, after] = [offsetAt(read - DAY_MS, zone), offsetAt(read + DAY_MS, zone)];
  const occurs = [read - before, read - after].filter((at) => at + offsetAt(at, zone) === read);
  return (occurs.length > 0 ? Math.min(...occurs) : read - before) * MILLISECOND;
}

/** Minutes after midnight on a day of the calendar; 1440 and more lie on the days after. */
export function instantOfMinutes(date: WallDate, minutes: number, zone: string): Instant {
  const { year, month, day } = daysAfter(date, Math.floor(minutes / DAY_MINUTES));
  const rest = ((minutes % DAY_MINUTES) + DAY_MINUTES) % DAY_MINUTES;
  return instantOfWall({ year, month, day, hour: Math.floor(rest / 60), minute: rest % 60, second: 0 }, zone);
}

/** The calendar's own arithmetic: no zone, no clock changes. */
export const daysAfter = (date: WallDate, days: number): WallDate => dateOfNumber(dayNumber(date) + days);

/** Whole days since 1970-01-01. */
export const dayNumber = ({ year, month, day }: WallDate): number => Date.UTC(year, month - 1, day) / DAY_MS;

export function dateOfNumber(days: number): WallDate {
  const [year, month, day] = new Date(days * DAY_MS).toISOString().slice(0, 10).split('-');
  return { year: +year!, month: +month!, day: +day! };
}

/** 1 Monday to 7 Sunday (ISO 8601). */
export const weekdayOf = (date: WallDate): number => ((((dayNumber(date) + 3) % 7) + 7) % 7) + 1;

/** `2026-03-07`, or null for what is no day of the calendar. */
export function parseDate(text: string): WallDate | null {
  const parts = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
  if (!parts) return null;
  const date = { year: +parts[1]!, month: +parts[2]!, day: +parts[3]! };
  return dateText(dateOfNumber(dayNumber(date))) === text ? date : null;
}

export const dateText = ({ year, month, day }: WallDate): string =>
  `${String(year).padStart(4, '0')}-${two(month)}-${two(day)}`;

/** `20:00` as minutes after midnight, or null. */
export function parseClock(text: string): number | null {
  const parts = /^([01]\d|2[0-3]):([0-5]\d)$/.exec(text);
  return parts ? +parts[1]! * 60 + +parts[2]! : null;
}

/** `03:20` on the wall of a zone. */
export function clockText(instant: Instant, zone: string): string {
  const { hour, minute } = wallOf(instant, zone);
  return `${two(hour)}:${two(minute)}`;
}

const two = (value: number): string => String(value).padStart(2, '0');
