import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { Zone } from '../page/zone.ts';
import { lengthOf, type TimeWindow } from './window.ts';

/** The marks of a time axis: at round wall times of the zone, no closer than a label needs. */
export interface Tick {
  readonly at: Instant;
  readonly label: string;
  /** a new day begins here, or it is the first mark: the day is written too */
  readonly day: string | null;
}

const MINUTE = 60;
const HOUR = 3600;
const DAY = 86_400;
const STEPS = [
  1,
  2,
  5,
  10,
  15,
  30,
  MINUTE,
  2 * MINUTE,
  5 * MINUTE,
  10 * MINUTE,
  15 * MINUTE,
  30 * MINUTE,
].concat([HOUR, 2 * HOUR, 3 * HOUR, 6 * HOUR, 12 * HOUR, DAY, 2 * DAY, 7 * DAY, 14 * DAY]);

/** Seconds between marks so that each has at least `room` pixels. */
function tickStep(window: TimeWindow, width: number, room: number): number {
  const perPixel = lengthOf(window) / SECOND / Math.max(1, width);
  return STEPS.find((step) => step >= perPixel * room) ?? STEPS.at(-1)!;
}

/**
 * Marks are placed on wall time: a step of hours begins at local midnight, also on the days that are 23 or 25 h long.
 */
export function ticks(window: TimeWindow, width: number, zone: Zone, room = 84): Tick[] {
  const step = tickStep(window, width, room);
  const wall = (at: Instant) => Math.floor(at / SECOND) + zone.offset(at);
  const marks: Tick[] = [];
  let lastDay: string | null = null;
  for (let local = Math.ceil(wall(window.from) / step) * step; ; local += step) {
    const at = instantOf(local, zone);
    if (at > window.to) return marks;
    if (at < window.from || (marks.length > 0 && at <= marks.at(-1)!.at)) continue;
    const day = zone.day(at);
    marks.push({ at, label: labelOf(at, step, zone), day: day === lastDay ? null : day });
    lastDay = day;
  }
}

/** The instant of a wall time in seconds; one that doesn't occur takes the offset before the gap. */
function instantOf(local: number, zone: Zone): Instant {
  const guess = local - zone.offset(local * SECOND);
  return (local - zone.offset(guess * SECOND)) * SECOND;
}

function labelOf(at: Instant, step: number, zone: Zone): string {
  if (step >= DAY) return zone.day(at);
  return step < MINUTE ? zone.seconds(at) : zone.clock(at);
}
