import { inSeconds, type Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';

/**
 * Can the rest carry it (handbook 6)? The run fractions of a space's units over the last three hours, added up, against the
 * units that are left. Remembered as quarters of an hour, so that it stays small. Plain JSON.
 */
export interface Quarter {
  readonly from: Instant;
  /** by unit: seconds on, [least, most], and seconds in which that was known */
  readonly units: Record<string, { low: number; high: number; known: number }>;
  /** sums of the samples of inside and outdoors, °C, and how many */
  inside: number;
  insides: number;
  outdoors: number;
  outdoorsOf: number;
}

export const QUARTER = 900_000_000;
const QUARTERS = 12;
/** a load of which less than this was known isn't told, share [our choice] */
const KNOWN_SHARE = 0.5;
/** fully loaded units have nothing to spare: what is left must carry it with so much to itself [our choice] */
const FULL = 0.95;

/** The quarter of an instant, begun if need be; quarters that are past the three hours go. */
export function quarterOf(quarters: Quarter[], t: Instant): Quarter {
  const from = Math.floor(t / QUARTER) * QUARTER;
  const last = quarters.at(-1);
  if (last && last.from >= from) return last;
  const quarter: Quarter = { from, units: {}, inside: 0, insides: 0, outdoors: 0, outdoorsOf: 0 };
  quarters.push(quarter);
  while (quarters[0]!.from <= from - QUARTERS * QUARTER) quarters.shift();
  return quarter;
}

/** A unit ran, or rested, from one instant to another. */
export function addKnown(quarters: Quarter[], unit: string, from: Instant, to: Instant, on: boolean): void {
  // after a long silence nothing before the last three hours matters
  let at = Math.max(from, to - QUARTERS * QUARTER);
  while (at < to) {
    const quarter = quarterOf(quarters, at);
    const end = Math.min(to, quarter.from + QUARTER);
    // an instant that a newer quarter has overtaken belongs to that
    const until = end > at ? end : to;
    const seconds = inSeconds(until - at);
    const sum = (quarter.units[unit] ??= { low: 0, high: 0, known: 0 });
    sum.known += seconds;
    if (on) {
      sum.low += seconds;
      sum.high += seconds;
    }
    at = until;
  }
}

/** A change that is only known to within some seconds: a start may have been earlier, a stop too. */
export function addDoubt(
  quarters: Quarter[],
  unit: string,
  t: Instant,
  seconds: number,
  to: 'on' | 'off',
): void {
  const sum = (quarterOf(quarters, t).units[unit] ??= { low: 0, high: 0, known: 0 });
  if (to === 'on') sum.high += seconds;
  else sum.low -= seconds;
}

export interface Load {
  /** seconds that the quarters reach back */
  readonly seconds: number;
  /** by unit; null: hardly known */
  readonly units: Readonly<Record<string, Bounds | null>>;
  /** run fractions added up: how many units' worth; null: some unit's isn't known */
  readonly sum: Bounds | null;
  /** °C, means; null: not measured */
  readonly inside: number | null;
  readonly outdoors: number | null;
}

export function loadOf(quarters: readonly Quarter[], units: readonly string[], now: Instant): Load {
  const from = quarters[0]?.from ?? now;
  const seconds = inSeconds(now - from);
  const each = units.map((unit): [string, Bounds | null] => [unit, fractionOf(quarters, unit, seconds)]);
  const all = each.map(([, fraction]) => fraction);
  const mean = (sum: 'inside' | 'outdoors', count: 'insides' | 'outdoorsOf'): number | null => {
    const of = quarters.reduce((total, quarter) => total + quarter[count], 0);
    return of === 0 ? null : quarters.reduce((total, quarter) => total + quarter[sum], 0) / of;
  };
  return {
    seconds,
    units: Object.fromEntries(each),
    sum: all.includes(null) || all.length === 0 ? null : [added(all, 0), added(all, 1)],
    inside: mean('inside', 'insides'),
    outdoors: mean('outdoors', 'outdoorsOf'),
  };
}

function fractionOf(quarters: readonly Quarter[], unit: string, seconds: number): Bounds | null {
  let [low, high, known] = [0, 0, 0];
  for (const { units } of quarters) {
    const sum = units[unit];
    if (!sum) continue;
    low += sum.low;
    high += sum.high;
    known += sum.known;
  }
  if (known < 900 || known < KNOWN_SHARE * seconds) return null;
  return [Math.max(0, low / known), Math.min(1, high / known)];
}

const added = (fractions: readonly (Bounds | null)[], end: 0 | 1): number =>
  fractions.reduce((sum, fraction) => sum + fraction![end], 0);

export type Carries = 'yes' | 'no' | 'not-known';

/** Would so many units carry a load, taking units to be alike? */
export function carries(sum: Bounds | null, able: number): Carries {
  if (able === 0) return 'no';
  if (sum === null) return 'not-known';
  if (sum[1] <= FULL * able) return 'yes';
  return sum[0] > able ? 'no' : 'not-known';
}

/** The fewest units that carry a load for sure; null: it isn't known, or more than there are. */
export function fewest(sum: Bounds | null, installed: number): number | null {
  for (let count = 1; count <= installed; count++) if (carries(sum, count) === 'yes') return count;
  return null;
}
