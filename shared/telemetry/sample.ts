import type { Instant } from '../base/instant.ts';

/** One value of one point at one instant, as it came in: raw, before polarity, scale and range are applied. */
export interface Sample {
  readonly t: Instant;
  readonly value: number;
  /** quality level, plus CONFLICT where two different values were sent for this point and instant */
  readonly quality: number;
}

/** How far ahead of our clock a claimed time may be (contract 1.4), in microseconds. */
export const FUTURE = 5 * 60 * 1_000_000;

export const GOOD = 0;
export const UNCERTAIN = 1;
export const BAD = 2;
/** flag beside the level: different values were sent for one point and instant */
export const CONFLICT = 4;

export type QualityWord = 'good' | 'uncertain' | 'bad';
export const qualityLevel = (quality: number): number => quality & 3;
export const isGood = (quality: number): boolean => (quality & 3) === GOOD;
export const isConflict = (quality: number): boolean => (quality & CONFLICT) !== 0;
export const qualityWord = (quality: number): QualityWord =>
  (['good', 'uncertain', 'bad', 'bad'] as const)[quality & 3] ?? 'bad';

/**
 * Merging is a join (contract 1.4): commutative, associative, idempotent, so that order of arrival can't matter. The
 * same again changes nothing; a different value makes the sample uncertain and flagged, the lesser value kept, the
 * worse quality kept. Values are never NaN here: a sample without a number is stored as 0 with quality bad.
 */
export function mergeSamples(a: Sample, b: Sample): Sample {
  const differ = a.value !== b.value || isConflict(a.quality) || isConflict(b.quality);
  const level = Math.max(qualityLevel(a.quality), qualityLevel(b.quality), differ ? UNCERTAIN : GOOD);
  return { t: a.t, value: Math.min(a.value, b.value), quality: level | (differ ? CONFLICT : 0) };
}
