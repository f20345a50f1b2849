import type { Bounds } from '../base/span.ts';

/**
 * How long a unit waits after power returns, and how surely that is known (handbook 5.4). A timer may be off by a share of
 * its length, a hand-set dial by some seconds besides; a wait that telemetry has bracketed is what it was seen to be, and
 * is planned from as measured. Everything in seconds.
 */
export interface Errors {
  /** share by which two timers of one make may differ from what they are set to */
  readonly tolerance: number;
  /** are dials taken to be off by up to each unit's `settingError` */
  readonly isHandSet: boolean;
  /** share by which one timer differs from itself, from one restart to the next */
  readonly repeat: number;
}

/** ±1 % between two timers of the same make [handbook 4, from memory]; one timer's repeatability [from memory]. */
export const USUAL_ERRORS: Errors = { tolerance: 0.01, isHandSet: true, repeat: 0.002 };
export const NO_ERRORS: Errors = { tolerance: 0, isHandSet: false, repeat: 0 };

/** A unit as it is planned for. */
export interface PlanUnit {
  readonly id: string;
  /** off-cycle delay as recorded or, where nothing is recorded, assumed */
  readonly offDelay: number;
  readonly known: 'assumed' | 'recorded';
  readonly powerUpBase: number;
  readonly powerUpShare: number;
  /** by how many seconds its dial may be off */
  readonly settingError: number;
  /** [low, high] between which restarts have bracketed it under the setting that it has */
  readonly seen: { readonly powerUp: Bounds | null; readonly offDelay: Bounds | null };
  /** locked-rotor amps; null: not recorded */
  readonly amps: number | null;
  readonly isOnGenerator: boolean;
}

export const nominalWait = (unit: PlanUnit, offDelay: number): number =>
  unit.powerUpBase + unit.powerUpShare * offDelay;

/** The wait with its dial newly set to `offDelay`: least and most. */
export function waitWhenSet(unit: PlanUnit, offDelay: number, errors: Errors): Bounds {
  const off = errors.isHandSet ? unit.powerUpShare * unit.settingError : 0;
  const nominal = nominalWait(unit, offDelay);
  return [(nominal - off) * (1 - errors.tolerance), (nominal + off) * (1 + errors.tolerance)];
}

export interface KeptWait {
  readonly nominal: number;
  readonly wait: Bounds;
  readonly by: 'measured' | 'recorded';
}

/**
 * The wait with its dial left alone; null where nobody has written down or seen what it is set to: such a unit has to be set,
 * or at least read, before anything is promised of it.
 */
export function waitAsItIs(unit: PlanUnit, errors: Errors): KeptWait | null {
  const measured = measuredWait(unit, errors);
  if (measured) return measured;
  if (unit.known === 'assumed') return null;
  const nominal = nominalWait(unit, unit.offDelay);
  return { nominal, wait: waitWhenSet(unit, unit.offDelay, errors), by: 'recorded' };
}

/** What was seen of it, where that is narrower than the record or speaks against it. */
function measuredWait(unit: PlanUnit, errors: Errors): KeptWait | null {
  const seen = seenWait(unit, errors.tolerance);
  if (!seen) return null;
  const recorded = waitWhenSet(unit, unit.offDelay, { ...USUAL_ERRORS, ...errors, isHandSet: true });
  const excludes = seen[1] < recorded[0] || seen[0] > recorded[1];
  const narrow = seen[1] - seen[0] <= recorded[1] - recorded[0];
  if (!excludes && !narrow) return null;
  const nominal = (seen[0] + seen[1]) / 2;
  if (errors.repeat === 0 && errors.tolerance === 0)
    return { nominal, wait: [nominal, nominal], by: 'measured' };
  return { nominal, wait: [seen[0] * (1 - errors.repeat), seen[1] * (1 + errors.repeat)], by: 'measured' };
}

/** The power-up delay as it was seen; else what its off-cycle delay, seen at its length, makes of it. */
function seenWait({ seen, powerUpBase, powerUpShare }: PlanUnit, tolerance: number): Bounds | null {
  if (seen.powerUp) return seen.powerUp;
  if (!seen.offDelay) return null;
  const [low, high] = seen.offDelay;
  return [
    powerUpBase * (1 - tolerance) + powerUpShare * low,
    powerUpBase * (1 + tolerance) + powerUpShare * high,
  ];
}

/** What a dial can be set to: from 30 s on in steps, not below the floor (handbook 2.1, 5.4). */
export interface Settable {
  readonly step: number;
  readonly floor: number;
  readonly most: number;
}

const LEAST_SETTING = 30;
export const USUAL_SETTABLE: Settable = { step: 10, floor: 180, most: 300 };

export function settings({ step, floor, most }: Settable): number[] {
  const found: number[] = [];
  for (let n = Math.ceil((floor - LEAST_SETTING) / step - 1e-9); ; n++) {
    const value = Math.round((LEAST_SETTING + n * step) * 1000) / 1000;
    if (value > most) return found;
    found.push(value);
  }
}
