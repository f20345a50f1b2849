import type { Bounds } from '../base/span.ts';

/**
 * What can be said from a meter that is slower than the sag (handbook 5.1 "Slow meters"). Voltages per unit of declared.
 */

/** What an RMS over `window` seconds reads that holds a sag to `residual` for `seconds`: √(1 − (1 − a²) · d / T). */
export const slowReading = (residual: number, seconds: number, window: number): number =>
  Math.sqrt(1 - ((1 - residual ** 2) * seconds) / window);

export interface SagBounds {
  /** [least, most] it can have been: the true residual is at most what was read */
  readonly residual: Bounds;
  /** [at least, at most] */
  readonly seconds: Bounds;
}

/**
 * One RMS reading over `window` seconds, with `before` as the level around the sag: the residual is at most the reading,
 * and even an interruption must have lasted (1 − r²/v²) of the window to pull it so far down.
 */
export function sagInReading(reading: number, window: number, before = 1): SagBounds {
  const share = Math.max(0, 1 - (reading / before) ** 2);
  return { residual: [0, reading], seconds: [share * window, window] };
}

/** What a meter kept of an interval: its least, greatest and mean one-cycle RMS; `mean` null where it gave none. */
export interface IntervalReading {
  readonly least: number;
  readonly most: number;
  readonly mean: number | null;
  readonly seconds: number;
}

/**
 * The interval's minimum is the residual. For all the time of a sag the voltage lay below `back`, and never above the
 * interval's maximum, so that with the mean the time below is at most T · (most − mean) / (most − back).
 */
export function sagInInterval({ least, most, mean, seconds }: IntervalReading, back: number): SagBounds {
  const room = mean === null || most <= back ? seconds : (seconds * (most - mean)) / (most - back);
  return { residual: [least, least], seconds: [0, Math.min(seconds, Math.max(0, room))] };
}
