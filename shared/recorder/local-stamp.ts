import type { LocalStamp, Revision } from './recording.ts';

/**
 * The file's own date and time, `dd/mm/yyyy,hh:mm:ss.ssssss` since 1999, `mm/dd/yy` in 1991 [IEEE C37.111, configuration
 * file, "date/time stamps"]. A day beyond 12 settles the order whatever the revision says.
 */
export interface ReadStamp extends LocalStamp {
  /** digits of the seconds' fraction: more than six make the data file's time stamps nanoseconds (2013) */
  readonly digits: number;
  /** read in the other order than the revision has it, since only so it is a date */
  readonly swapped: boolean;
}

const STAMP =
  /^(\d{1,4})[/.-](\d{1,2})[/.-](\d{1,4})\s*,\s*(\d{1,2}):(\d{1,2}):(\d{1,2})(?:[.,](\d{1,12}))?\s*$/;

/** What looks like a date and a time, sound or not. */
export const isStampLine = (line: string): boolean =>
  /^\s*\d{1,4}[/.-]\d{1,2}[/.-]\d{1,4}\s*,\s*\d{0,2}:/.test(line);

/** null: no such date or time. */
export function readStamp(line: string, revision: Revision): ReadStamp | null {
  const found = STAMP.exec(line.trim());
  if (!found) return null;
  const [, first, second, third, hour, minute, whole, fraction = ''] = found;
  const clock = clockMicros(+hour!, +minute!, +whole!, fraction);
  if (clock === null) return null;
  if (first!.length === 4) return stampOf(dayMicros(+first!, +second!, +third!), clock, fraction, false);
  const year = fullYear(third!);
  const dayFirst = dayMicros(year, +second!, +first!);
  const monthFirst = dayMicros(year, +first!, +second!);
  const [meant, other] = revision === 1991 ? [monthFirst, dayFirst] : [dayFirst, monthFirst];
  return stampOf(meant ?? other, clock, fraction, meant === null && other !== null);
}

const stampOf = (day: number | null, clock: number, fraction: string, swapped: boolean): ReadStamp | null =>
  day === null ? null : { micros: day + clock, digits: fraction.length, swapped };

/** Two digits are of the years 1970 to 2069. */
const fullYear = (text: string): number => {
  const year = Number(text);
  if (text.length > 2) return year;
  return year < 70 ? 2000 + year : 1900 + year;
};

function dayMicros(year: number, month: number, day: number): number | null {
  if (year < 1900 || year > 2200) return null;
  const milliseconds = Date.UTC(year, month - 1, day);
  const date = new Date(milliseconds);
  return date.getUTCMonth() === month - 1 && date.getUTCDate() === day ? milliseconds * 1000 : null;
}

/** A leap second is the instant after it; whole days stop at 24:00:00. */
function clockMicros(hour: number, minute: number, whole: number, fraction: string): number | null {
  if (hour > 24 || minute > 59 || whole > 60 || (hour === 24 && minute + whole > 0)) return null;
  return ((hour * 60 + minute) * 60 + whole) * 1e6 + Math.round(Number(`0.${fraction || '0'}`) * 1e6);
}

/** `+5h30`, `-6`, `0`: hours and minutes ahead of UTC (2013, time code). null: not said ("x"), or nothing of the sort. */
export function utcOffset(field: string | undefined): number | null {
  const found = /^([+-]?)(\d{1,2})(?:[hH:](\d{1,2}))?$/.exec(field ?? '');
  if (!found) return null;
  const minutes = +found[2]! * 60 + +(found[3] ?? 0);
  if (minutes > 14 * 60 || +(found[3] ?? 0) > 59) return null;
  return (found[1] === '-' ? -minutes : minutes) * 60;
}
