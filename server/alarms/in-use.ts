import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import { isInUse as isWithin, parseInUse } from '../../shared/building/wiring.ts';
import type { Space } from '../../shared/telemetry/site.ts';

const DAYS = ['Mon', 'Tue', 'Wed', 'Thu', 'Fri', 'Sat', 'Sun'];
/** 1970-01-05 was the first Monday: days count from 1970-01-01. */
const FIRST_MONDAY = 4;

/** Is a space in use at an instant, by the site's wall time? One with no hours recorded may always be. */
export function isInUse(inUse: Space['inUse'], timeZone: string, at: Instant): boolean {
  if (inUse.length === 0) return true;
  const parts = new Intl.DateTimeFormat('en-GB', {
    timeZone,
    weekday: 'short',
    hour: '2-digit',
    minute: '2-digit',
    hourCycle: 'h23',
  }).formatToParts(at / MILLISECOND);
  const part = (type: string): string => parts.find((one) => one.type === type)?.value ?? '';
  const day = FIRST_MONDAY + DAYS.indexOf(part('weekday'));
  return isWithin(inUse.map(parseInUse), day, Number(part('hour')) + Number(part('minute')) / 60);
}
