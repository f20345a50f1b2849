import { seconds, type Instant } from '../base/instant.ts';
import type { Command, Work } from './alarm.ts';

/**
 * Work in progress (handbook 7): while somebody is on site the units they work on are suppressed by design. At most two
 * hours at a time, renewable; afterwards what is still true is raised. The room's temperature and other units still page.
 */
export const LONGEST_WORK = seconds(2 * 3600);
/** Ended work is kept as long as counts look back on it (rules.ts). */
const KEPT = seconds(31 * 86_400);

export type WorkRefusal = 'work-too-long' | 'not-at-work';

const isAtWork = ({ until, endedAt }: Work, now: Instant): boolean => endedAt === null && now < until;

export function begun(
  works: readonly Work[],
  { id, units, by, at, until }: Extract<Command, { kind: 'begin-work' }>,
): readonly Work[] | WorkRefusal {
  if (until <= at || until - at > LONGEST_WORK) return 'work-too-long';
  return [...works, { id, units, by, from: at, until, endedAt: null }];
}

export function ended(
  works: readonly Work[],
  { work, at }: Extract<Command, { kind: 'end-work' }>,
): readonly Work[] | WorkRefusal {
  const found = works.find(({ id }) => id === work);
  if (!found || !isAtWork(found, at)) return 'not-at-work';
  return works.map((one) => (one.id === work ? { ...one, endedAt: at } : one));
}

/** Those whose time is over have ended then; those long past are forgotten. */
export const atTime = (works: readonly Work[], now: Instant): readonly Work[] =>
  works
    .map((one) => (one.endedAt === null && one.until <= now ? { ...one, endedAt: one.until } : one))
    .filter(({ endedAt }) => endedAt === null || now - endedAt < KEPT);

export const workOn = (works: readonly Work[], unit: string | null, now: Instant): Work | null =>
  works.findLast((one) => isAtWork(one, now) && unit !== null && one.units.includes(unit)) ?? null;

/** Events during work count for nothing. */
export const wasWorkedOn = (works: readonly Work[], unit: string, at: Instant): boolean =>
  works.some(
    ({ units, from, until, endedAt }) => units.includes(unit) && from <= at && at < (endedAt ?? until),
  );
