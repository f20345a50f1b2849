import { inSeconds, seconds } from '../../base/instant.ts';
import type { Bounds, Span } from '../../base/span.ts';

/**
 * How far two starts lie apart, and what may be said of it (handbook 5.3): simultaneous when the upper bound of the
 * spacing is below the panel's minimum, separate when the lower bound isn't below it, else it can't be told. Interval
 * arithmetic only, never a middle.
 */
export type SpacingVerdict = 'separate' | 'simultaneous' | 'cannot-be-told';

/** Two starts; `doubt`: seconds by which their gateways' clocks may differ. */
export interface Pair {
  readonly a: Span;
  readonly b: Span;
  readonly doubt: number;
}

/** Least and most seconds between two starts, whichever came first. */
export function spacingBounds({ a, b, doubt }: Pair): Bounds {
  const least = Math.max(0, b.earliest - a.latest, a.earliest - b.latest);
  const most = Math.max(a.latest - b.earliest, b.latest - a.earliest);
  return [inSeconds(Math.max(0, least - seconds(doubt))), inSeconds(most + seconds(doubt))];
}

export function spacingVerdict([least, most]: Bounds, minimumSeconds: number): SpacingVerdict {
  if (most < minimumSeconds) return 'simultaneous';
  return least >= minimumSeconds ? 'separate' : 'cannot-be-told';
}

/**
 * The longest polling period, in seconds, that would have told the two apart: each start then lies within one period, so
 * the spacing is known to ± that period. `apart`: seconds between the starts as planned or, unplanned, as best known.
 * Below a tenth of a second only reporting on change tells: 0.
 */
export const tellingPeriod = (apart: number, minimumSeconds: number): number =>
  Math.floor(Math.abs(apart - minimumSeconds) * 10 + 1e-9) / 10;
