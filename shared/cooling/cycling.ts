import type { Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import { runFraction, runTimes, startRate, type RunEdge } from './run-times.ts';

/**
 * The cycling curve of a thermostat (handbook 6; NEMA/Henderson form, from memory): N = 4·Nmax·X(1 − X) starts an hour at
 * run fraction X, with `most` = Nmax starts an hour at half load.
 */
export const startsPerHour = (most: number, fraction: number): number => most * curve(fraction);

const curve = (fraction: number): number => 4 * fraction * (1 - fraction);

/** Minutes on in each cycle. */
export const onMinutes = (most: number, fraction: number): number => 15 / (most * (1 - fraction));

/** Minutes off in each cycle. */
export const offMinutes = (most: number, fraction: number): number => 15 / (most * fraction);

/** One hour of a unit, as it lies beside the curve. */
export interface CycledHour {
  readonly from: Instant;
  readonly fraction: Bounds;
  readonly starts: number;
}

const HOUR = 3_600_000_000;
/** an hour of which less than this was known tells no rate, share */
const KNOWN_SHARE = 0.9;

/** The whole hours of a window, oldest first, in which it was known whether the unit ran. */
export function cycledHours(edges: readonly RunEdge[], from: Instant, to: Instant): CycledHour[] {
  const hours: CycledHour[] = [];
  for (let at = from; at + HOUR <= to; at += HOUR) {
    const times = runTimes(edges, at, at + HOUR);
    const fraction = runFraction(times);
    if (fraction === null || times.knownSeconds < KNOWN_SHARE * 3600) continue;
    hours.push({ from: at, fraction, starts: startRate(times)! });
  }
  return hours;
}

/** hours that cycled, below which no curve is drawn */
const LEAST_HOURS = 4;

/**
 * Nmax of the curve that passes closest to a unit's hours, in starts an hour: least squares through 0, Σ N·g / Σ g² with
 * g = 4X(1 − X). Hours that ran or rested throughout say nothing of it. [low, high] over the hours' run fractions as they
 * are only bounded; null where fewer than four hours cycled.
 */
export function fittedMost(hours: readonly CycledHour[]): Bounds | null {
  const cycled = hours.filter(({ starts }) => starts > 0);
  if (cycled.length < LEAST_HOURS) return null;
  const by = (pick: (fraction: Bounds) => number): number => {
    const places = cycled.map(({ fraction, starts }) => ({ g: curve(pick(fraction)), starts }));
    const squares = places.reduce((sum, { g }) => sum + g * g, 0);
    return squares === 0 ? NaN : places.reduce((sum, { g, starts }) => sum + g * starts, 0) / squares;
  };
  const found = [by(([low]) => low), by(([low, high]) => (low + high) / 2), by(([, high]) => high)].filter(
    (most) => Number.isFinite(most),
  );
  return found.length === 0 ? null : [Math.min(...found), Math.max(...found)];
}
