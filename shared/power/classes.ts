import type { Bounds } from '../base/span.ts';
import { USUAL_LIMITS } from './excursion.ts';

/**
 * The class of an excursion by its residual voltage and its duration [IEEE 1159, handbook 5.1; the edge rule is ours: on an
 * edge the shorter class]. Sag 0.1–0.9 pu, interruption below 0.1 pu; an interruption is momentary from half a cycle on.
 */
export type ExcursionClass =
  | `${'instantaneous' | 'momentary' | 'temporary'} ${'sag' | 'swell'}`
  | `${'momentary' | 'temporary' | 'sustained'} interruption`
  | 'undervoltage'
  | 'overvoltage';

const SHORTEST_CYCLES = 0.5;
const INSTANTANEOUS_CYCLES = 30;
const MOMENTARY_SECONDS = 3;
const TEMPORARY_SECONDS = 60;

/** `residual` per unit; null where it is no excursion, or shorter than half a cycle. */
export function classOf(residual: number, seconds: number, frequency: number): ExcursionClass | null {
  const form = formOf(residual);
  if (form === null || seconds * frequency < SHORTEST_CYCLES) return null;
  if (seconds > TEMPORARY_SECONDS) return LONGER[form];
  if (seconds > MOMENTARY_SECONDS) return `temporary ${form}`;
  if (form === 'interruption') return 'momentary interruption';
  return seconds * frequency > INSTANTANEOUS_CYCLES ? `momentary ${form}` : `instantaneous ${form}`;
}

const LONGER = {
  sag: 'undervoltage',
  swell: 'overvoltage',
  interruption: 'sustained interruption',
} as const;

function formOf(residual: number): keyof typeof LONGER | null {
  if (residual < USUAL_LIMITS.interruptionBelow) return 'interruption';
  if (residual < USUAL_LIMITS.sagBelow) return 'sag';
  return residual > USUAL_LIMITS.swellAbove ? 'swell' : null;
}

/** The class where every residual and duration within the bounds has the same; else null. Classes are rectangles. */
export function classWithin(residual: Bounds, seconds: Bounds, frequency: number): ExcursionClass | null {
  const [first, ...others] = residual.flatMap((pu) => seconds.map((s) => classOf(pu, s, frequency)));
  return others.every((one) => one === first) ? first! : null;
}
