import { seconds, type Instant } from '../../base/instant.ts';
import { control, SETTLED } from '../../control/control.ts';
import {
  powerUpDelay,
  settingVariants,
  withTimerError,
  type ControlSettings,
} from '../../control/settings.ts';
import { outputOn, type ControlInputs, type ControlState } from '../../control/state.ts';
import { edgesIn, valueBefore, type Edge } from '../track.ts';
import type { Moment } from './moment.ts';
import type { Way } from './shadow-ways.ts';
import type { Role } from './wiring.ts';

/**
 * What the reference control would have done on the seen inputs, in every variant that the settings leave open (handbook
 * 2.1) and with its timers at either end of their tolerance.
 */
export interface ReferenceAnswer {
  /** the output that the reference control would have had, and since when */
  readonly output: boolean;
  readonly since: Instant;
  /** in how many of all variants */
  readonly variants: number;
}

/** What every variant says at `at`; null where one of them does what was seen. */
export function referenceSays(moment: Moment, way: Way, at: Instant): ReferenceAnswer[] | null {
  const seen = moment.belief.shadow.now.output?.to === 1;
  const from = begun(moment, way);
  if (from === null) return null;
  const inputs = inputsFrom(moment, from.at, at);
  const found = new Map<Instant, ReferenceAnswer>();
  for (const settings of settingVariants(moment.wiring.protection))
    for (const error of timerErrors(moment)) {
      const says = run(withTimerError(settings, error), from.state(settings), inputs, at);
      if (says.output === seen) return null;
      if (error !== 0) continue;
      const key = says.since ?? from.at;
      const variants = (found.get(key)?.variants ?? 0) + 1;
      found.set(key, { output: says.output, since: key, variants });
    }
  return [...found.values()].sort((a, b) => a.since - b.since);
}

const timerErrors = ({ wiring }: Moment): readonly number[] => [
  0,
  -wiring.protection.tolerance,
  wiring.protection.tolerance,
];

interface Beginning {
  readonly at: Instant;
  readonly state: (settings: ControlSettings) => ControlState;
}

/** The last moment before it at which the control's state is known, whatever its variant. */
function begun({ belief }: Moment, way: Way): Beginning | null {
  const { now, waitFrom } = belief.shadow;
  if (way === 'off-with-call') {
    const at = waitFrom!;
    return { at, state: (settings) => waiting(at, settings) };
  }
  if (way === 'never-latches') {
    const start = belief.lastRun;
    const cause = belief.call?.stops.at(-1)?.cause;
    if (!start || (cause !== 'high-pressure' && cause !== 'low-pressure')) return null;
    const stopsBefore = cause === 'high-pressure' ? { highStops: 1 } : { lowStops: 1 };
    return { at: start.latest, state: () => ({ ...running(start.latest), ...stopsBefore }) };
  }
  const on = now.output!;
  return { at: on.latest, state: () => running(on.latest) };
}

const running = (at: Instant): ControlState => ({
  ...SETTLED,
  phase: 'running',
  since: at,
  call: true,
  startedAt: at,
});

/** The longest of its waits has just begun. */
const waiting = (at: Instant, settings: ControlSettings): ControlState => ({
  ...SETTLED,
  phase: 'off-delay',
  since: at,
  stoppedAt: at,
  waitUntil: at + seconds(Math.max(settings.offDelay, powerUpDelay(settings))),
});

interface Seen {
  readonly at: Instant;
  readonly inputs: ControlInputs;
}

const INPUT_ROLES = ['power', 'call', 'high', 'low'] as const satisfies readonly Role[];

/** The seen inputs from an instant on, each change at the latest that it can have been; what isn't wired stays well. */
function inputsFrom(moment: Moment, from: Instant, until: Instant): Seen[] {
  const { tracks } = moment.belief;
  const changes: { at: Instant; role: Role; to: Edge['to'] }[] = [];
  const values: Partial<Record<Role, number>> = {};
  for (const role of INPUT_ROLES) {
    if (!moment.wiring.byRole[role]) continue;
    values[role] = valueBefore(tracks[role], from + 1) ?? WELL[role];
    for (const edge of edgesIn(tracks[role], from + 1, until - 1))
      if (edge.latest < until) changes.push({ at: edge.latest, role, to: edge.to });
  }
  changes.sort((a, b) => a.at - b.at);
  const seen: Seen[] = [{ at: from, inputs: inputsOf(moment, values) }];
  for (const { at, role, to } of changes) {
    values[role] = to ?? WELL[role as keyof typeof WELL];
    seen.push({ at, inputs: inputsOf(moment, values) });
  }
  return seen;
}

const WELL = { power: 1, call: 1, high: 0, low: 0 } as const;
/** V AC, nominal (handbook 2) */
const NOMINAL = 24;

function inputsOf({ wiring }: Moment, values: Partial<Record<Role, number>>): ControlInputs {
  const call = (values.call ?? WELL.call) === 1;
  const loop = (role: 'high' | 'low') => wiring.byRole[role]?.point.sense === 'loop';
  // behind a switch that the call feeds, dark without the call says nothing
  const open = (role: 'high' | 'low') => values[role] === 1 && (call || !loop(role));
  return {
    controlVoltage: (values.power ?? WELL.power) === 1 ? NOMINAL : 0,
    call,
    highPressureOpen: open('high'),
    lowPressureOpen: open('low'),
  };
}

/** Runs one control through the inputs to `until`; since when its output is as it is then, null: since the beginning. */
function run(
  settings: ControlSettings,
  begin: ControlState,
  inputs: readonly Seen[],
  until: Instant,
): { readonly output: boolean; readonly since: Instant | null } {
  const model = control(settings);
  let state = begin;
  let since: Instant | null = null;
  let held = inputs[0]!.inputs;
  const take = (at: Instant): void => {
    const was = outputOn(state);
    state = model.step(state, held, at).state;
    if (outputOn(state) !== was) since = at;
  };
  const advance = (to: Instant): void => {
    for (let due = model.deadline(state); due !== null && due < to; due = model.deadline(state)) take(due);
  };
  for (const { at, inputs: next } of inputs) {
    advance(at);
    held = next;
    take(at);
  }
  advance(until);
  return { output: outputOn(state), since };
}
