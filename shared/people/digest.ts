import { SECOND, type Instant } from '../base/instant.ts';
import { dateText, instantOfMinutes, wallOf, weekdayOf } from './wall-time.ts';

/**
 * When the morning digest is due: at a set time on the wall of the person's zone, once a local day, whatever the clocks do
 * (RFC 5545 section 3.3.5, as shifts). Once a week it comes although all is quiet: that it comes shows that the way works.
 */
export interface DigestSettings {
  readonly isOn: boolean;
  /** minutes after midnight on the wall of the zone */
  readonly atMinutes: number;
  readonly zone: string;
  /** of the weekly one, 1 to 7 from Monday */
  readonly weekday: number;
  /** the report of the month before comes on the first, by e-mail (shared/report/due.ts) */
  readonly isMonthly: boolean;
}

export const USUAL_DIGEST = { isOn: true, atMinutes: 7 * 60, weekday: 1, isMonthly: false } as const;

/** So late, after an outage or at the first start, a morning's digest tells nothing new any more [ours]. */
const LATE = 6 * 3600 * SECOND;

export interface DueDigest {
  /** on the wall, as 2026-03-08 */
  readonly day: string;
  readonly isWeekly: boolean;
  /** its time is past by so much that it is passed over */
  readonly isLate: boolean;
}

/** null: today's isn't due yet, or is made already. Never one of a day before. */
export function dueDigest(settings: DigestSettings, lastDay: string | null, now: Instant): DueDigest | null {
  if (!settings.isOn) return null;
  const today = wallOf(now, settings.zone);
  const dueAt = instantOfMinutes(today, settings.atMinutes, settings.zone);
  const day = dateText(today);
  if (now < dueAt || (lastDay !== null && lastDay >= day)) return null;
  return { day, isWeekly: weekdayOf(today) === settings.weekday, isLate: now - dueAt > LATE };
}
