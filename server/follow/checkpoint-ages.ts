import { seconds, type Instant } from '../../shared/base/instant.ts';

/**
 * Which checkpoints a subject keeps: close together where late data usually fall, far apart further back. 5 min within
 * the last hour, hourly to a day, daily to a month (30 days), monthly beyond; never more than 100 (architecture 4).
 */
const HOUR = seconds(3600);
const DAY = 24 * HOUR;
const MONTH = 30 * DAY;

const MOST_CHECKPOINTS = 100;
export const CHECKPOINT_BYTES = 32 * 1024;

function spacing(age: number): number {
  if (age <= HOUR) return seconds(300);
  if (age <= DAY) return HOUR;
  return age <= MONTH ? DAY : MONTH;
}

/** Those to drop, given all of a subject's in rising order and the instant that ages count from. */
export function surplusCheckpoints(throughs: readonly Instant[], newest: Instant): Instant[] {
  const surplus: Instant[] = [];
  const kept: Instant[] = [];
  for (const through of throughs) {
    const before = kept.at(-1);
    if (before !== undefined && sameCell(before, through, newest)) surplus.push(through);
    else kept.push(through);
  }
  return [...surplus, ...kept.slice(0, Math.max(0, kept.length - MOST_CHECKPOINTS))];
}

/** One is kept in each cell of a grid that doesn't move with time, so that thinning again drops nothing more. */
function sameCell(a: Instant, b: Instant, newest: Instant): boolean {
  const width = spacing(newest - a);
  return Math.floor(a / width) === Math.floor(b / width);
}

/** Is a checkpoint at `through` worth writing when the last one lies at `last`? */
export const isDue = (last: Instant | null, through: Instant): boolean =>
  last === null || Math.floor(last / seconds(300)) !== Math.floor(through / seconds(300));
