import { SECOND, type Instant } from '../base/instant.ts';
import type { DigestSettings } from '../people/digest.ts';
import { instantOfMinutes } from '../people/wall-time.ts';
import { monthBefore, monthOf, monthText } from './month.ts';

/** Sent so many days late at most, after an outage or at the first start: later it is read where it stands [ours]. */
const LATE = 7 * 86_400 * SECOND;

/**
 * The month whose report is due to somebody who wants them: the one that ended, on the first of the next, at the digest's
 * time on the wall of the person's zone. null: none is due, or it is made already.
 */
export function dueReport(
  settings: Pick<DigestSettings, 'isMonthly' | 'atMinutes' | 'zone'>,
  lastMonth: string | null,
  now: Instant,
): string | null {
  if (!settings.isMonthly) return null;
  const current = monthOf(now, settings.zone);
  const dueAt = instantOfMinutes({ ...current, day: 1 }, settings.atMinutes, settings.zone);
  const month = monthText(monthBefore(current));
  const isDue = now >= dueAt && now - dueAt <= LATE;
  return isDue && (lastMonth === null || lastMonth < month) ? month : null;
}
