import type { Instant } from '../../base/instant.ts';
import { USUAL_LIMITS, type ExcursionKind } from '../../power/excursion.ts';

/**
 * What one row says of a line voltage over a stretch of time: a sample at an instant, a meter's interval between two.
 * Per unit of declared voltage.
 */
export interface Look {
  readonly key: string;
  readonly from: Instant;
  readonly to: Instant;
  readonly least: number;
  readonly most: number;
  /** of an interval, where the meter gave it */
  readonly mean: number | null;
  /** µs by which its times may be off */
  readonly doubt: number;
  /** of a point that reports on change: it held its value to within this since its look before; null: it was only looked at */
  readonly deadband: number | null;
}

export const KINDS: readonly ExcursionKind[] = ['interruption', 'sag', 'swell'];

const { sagBelow, swellAbove, interruptionBelow, hysteresis } = USUAL_LIMITS;
/** 0.9 + 0.02 must be reached by what is read as 0.92 */
const ROUNDING = 1e-9;

/** Was the voltage beyond the threshold at any time of it? */
export function isOut(kind: ExcursionKind, { least, most }: Look): boolean {
  if (kind === 'swell') return most > swellAbove;
  return least < (kind === 'sag' ? sagBelow : interruptionBelow);
}

/** Was it back, for all of it? */
export function isBack(kind: ExcursionKind, { least, most }: Look): boolean {
  if (kind === 'swell') return most <= swellAbove - hysteresis + ROUNDING;
  return least >= backAt(kind) - ROUNDING;
}

/** Was it never back? Where it was neither this nor that, the look holds a change. */
export function isNeverBack(kind: ExcursionKind, { least, most }: Look): boolean {
  if (kind === 'swell') return least > swellAbove - hysteresis + ROUNDING;
  return most < backAt(kind) - ROUNDING;
}

/** Did the look before last, unchanged as far as it matters, up to this one: not out of bounds, or not back. */
export function heldUpTo(kind: ExcursionKind, before: Look, look: Look): boolean {
  const { deadband } = look;
  if (deadband === null) return false;
  const least = { ...before, least: before.least - deadband, most: before.most + deadband };
  return !isOut(kind, least) || isNeverBack(kind, least);
}

export const backAt = (kind: 'sag' | 'interruption'): number =>
  (kind === 'sag' ? sagBelow : interruptionBelow) + hysteresis;

export const worstOf = (kind: ExcursionKind, { least, most }: Look): number =>
  kind === 'swell' ? most : least;

export const isWorse = (kind: ExcursionKind, a: number, b: number): boolean =>
  kind === 'swell' ? a > b : a < b;
