import { SECOND, type Instant } from '../base/instant.ts';
import { courseOf, energyUntil, type Course } from './wave-course.ts';
import { zeroCrossings } from './zero-crossings.ts';

/**
 * Urms(1/2): the RMS over one cycle, from a zero crossing, refreshed each half cycle [IEC 61000-4-30, handbook 5.1].
 *
 * Any sampling rate, also one that has no whole number of samples a cycle: windows reach from one interpolated zero crossing
 * to the next but one, and the square is integrated between. Each value belongs to the middle of its window, a zero
 * crossing as well: a sudden dip at a crossing then begins where it began. Only whole windows give a value, so the ends of
 * a waveform, or a waveform that comes in two pieces, can invent no dip: a cycle's values are missing there instead.
 */
export interface Waveform {
  readonly startAt: Instant;
  /** seconds between two values */
  readonly step: number;
  /** instantaneous values, V or A */
  readonly values: ArrayLike<number>;
}

/** RMS values with their instants, in time order. */
export interface RmsValues {
  readonly t: readonly Instant[];
  readonly rms: readonly number[];
}

/** `frequency` in Hz is the nominal one, 50 or 60; the real one may lie up to a tenth beside it. */
export function halfCycleRms(waveform: Waveform, frequency: number): RmsValues {
  const { startAt, step, values } = waveform;
  const { crossings, angle } = zeroCrossings(values, 1 / (2 * frequency * step));
  const course = courseOf(values, angle);
  const t: Instant[] = [];
  const rms: number[] = [];
  for (let i = 0; i + 2 < crossings.length; i++) {
    t.push(startAt + Math.round(crossings[i + 1]! * step * SECOND));
    rms.push(rmsBetween(course, crossings[i]!, crossings[i + 2]!));
  }
  return { t, rms };
}

const rmsBetween = (course: Course, from: number, to: number): number =>
  Math.sqrt(Math.max(0, energyUntil(course, to) - energyUntil(course, from)) / (to - from));
