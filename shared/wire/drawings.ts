import type { UnitPhase } from '../inference/standing.ts';

/**
 * A unit's state as drawn, on screen and on paper: states differ by drawing, the same from the strip to the chart, never
 * by colour alone. `running` is solid in a middle tone, `ready` a thin line, `waiting` one-way hatch, `stopped-itself`
 * cross-hatch, `latched` solid with a notch, `no-power` dotted, `not-known` stippled.
 */
export type Drawing =
  'running' | 'ready' | 'waiting' | 'stopped-itself' | 'latched' | 'no-power' | 'not-known';

/** Total: a new phase needs its drawing. */
export const PHASE_DRAWINGS: Record<UnitPhase, Drawing> = {
  running: 'running',
  ready: 'ready',
  'off-delay': 'waiting',
  'power-up-delay': 'waiting',
  'soft-lockout': 'stopped-itself',
  'undervoltage-hold': 'stopped-itself',
  'hard-lockout': 'latched',
  'failed-start': 'stopped-itself',
  'no-power': 'no-power',
  stopped: 'waiting',
  'not-known': 'not-known',
};

/** What each drawing stands for, for the legend and for reading a strip aloud. */
export const DRAWING_WORDS: Record<Drawing, string> = {
  running: 'running',
  ready: 'ready',
  waiting: 'waiting',
  'stopped-itself': 'stopped by itself',
  latched: 'latched',
  'no-power': 'no power',
  'not-known': 'not known',
};
