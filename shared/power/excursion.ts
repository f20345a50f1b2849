import type { Instant } from '../base/instant.ts';

/**
 * A voltage excursion as the detector (detect.ts) gives it: voltage out of its band, per unit of the declared voltage
 * [IEC 61000-4-30, handbook 5.1]. A dip may contain an interruption: both are given.
 */
export type ExcursionKind = 'sag' | 'swell' | 'interruption';

export interface Excursion {
  readonly kind: ExcursionKind;
  /** the first Urms(1/2) value beyond the threshold */
  readonly start: Instant;
  /** the first value with which every channel is back (of an interruption: any channel); null: it was never seen */
  readonly end: Instant | null;
  /** per unit of declared voltage: the lowest value of any channel, of a swell the highest */
  readonly residual: number;
  /** from start to end; null while it lasts */
  readonly seconds: number | null;
  /** those that were beyond the threshold at any time, sorted */
  readonly channels: readonly string[];
}

/** Thresholds per unit of the reference, and how far back beyond one a value must come to end what it began. */
export interface ExcursionLimits {
  readonly sagBelow: number;
  readonly swellAbove: number;
  readonly interruptionBelow: number;
  readonly hysteresis: number;
}

/** 90 %, 110 %, 10 % and 2 % of declared voltage [IEC 61000-4-30, handbook 5.1]. */
export const USUAL_LIMITS: ExcursionLimits = {
  sagBelow: 0.9,
  swellAbove: 1.1,
  interruptionBelow: 0.1,
  hysteresis: 0.02,
};
