import type { Instant } from '../base/instant.ts';
import { instantOfMinutes, wallOf } from '../people/wall-time.ts';

/** A month of the calendar, as people report by it: from midnight on its first day to midnight on the next's, by the wall. */
export interface Month {
  readonly year: number;
  /** 1 to 12 */
  readonly month: number;
}

/** `2026-10`, or null for what is no month. */
export function parseMonth(text: string): Month | null {
  const parts = /^(\d{4})-(0[1-9]|1[0-2])$/.exec(text);
  return parts && +parts[1]! >= 1 ? { year: +parts[1]!, month: +parts[2]! } : null;
}

export const monthText = ({ year, month }: Month): string =>
  `${String(year).padStart(4, '0')}-${String(month).padStart(2, '0')}`;

export const monthBefore = ({ year, month }: Month): Month =>
  month === 1 ? { year: year - 1, month: 12 } : { year, month: month - 1 };

export const monthAfter = ({ year, month }: Month): Month =>
  month === 12 ? { year: year + 1, month: 1 } : { year, month: month + 1 };

/** The month that the wall of the zone shows at an instant. */
export function monthOf(instant: Instant, zone: string): Month {
  const { year, month } = wallOf(instant, zone);
  return { year, month };
}

/** From the month's first midnight in the zone to the next month's: half open. */
export function stretchOfMonth(month: Month, zone: string): { readonly from: Instant; readonly to: Instant } {
  const midnight = (of: Month): Instant => instantOfMinutes({ ...of, day: 1 }, 0, zone);
  return { from: midnight(month), to: midnight(monthAfter(month)) };
}
