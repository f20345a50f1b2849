import type { Instant } from '../base/instant.ts';
import { CONFLICT, GOOD, UNCERTAIN, isConflict, qualityLevel } from './sample.ts';

/** What a meter saw between two times (contract 1.1): raw, like a sample. */
export interface Interval {
  readonly from: Instant;
  readonly to: Instant;
  readonly least: number;
  readonly most: number;
  /** null where the meter gave none */
  readonly mean: number | null;
  readonly quality: number;
}

/** The join of samples (contract 1.4) over three values: the widest range and the lesser mean stand, flagged. */
export function mergeIntervals(a: Interval, b: Interval): Interval {
  const same = a.least === b.least && a.most === b.most && a.mean === b.mean;
  const differ = !same || isConflict(a.quality) || isConflict(b.quality);
  const level = Math.max(qualityLevel(a.quality), qualityLevel(b.quality), differ ? UNCERTAIN : GOOD);
  return {
    from: a.from,
    to: a.to,
    least: Math.min(a.least, b.least),
    most: Math.max(a.most, b.most),
    mean: a.mean === null || b.mean === null ? (a.mean ?? b.mean) : Math.min(a.mean, b.mean),
    quality: level | (differ ? CONFLICT : 0),
  };
}
