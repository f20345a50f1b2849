import { seconds, type Instant } from '../base/instant.ts';
import { control } from '../control/control.ts';
import type { ControlSettings } from '../control/settings.ts';
import {
  NO_POWER_BELOW,
  type ControlChange,
  type ControlInputs,
  type ControlPhase,
  type ControlState,
} from '../control/state.ts';

/**
 * A rehearsal: the reference control (handbook 2.2) given inputs at times, with the settings that were picked. Everything that
 * it shows follows from this alone, so that a link that holds it shows the same (rehearsal-link.ts). It operates nothing.
 */
export interface Rehearsal {
  readonly settings: ControlSettings;
  /** what has held for long before 0: with a call, the compressor runs */
  readonly opening: ControlInputs;
  /** in order of time, ms from 0; `call` is what the thermostat asks for: the control gets it while it has power */
  readonly steps: readonly RehearsalStep[];
  /** ms from 0: how far it has been played */
  readonly until: number;
}

export interface RehearsalStep {
  readonly at: number;
  readonly change: Partial<ControlInputs>;
}

export const REHEARSAL_BOUNDS = { steps: 500, milliseconds: 86_400_000, volts: 40 } as const;

export const QUIET_INPUTS: ControlInputs = {
  controlVoltage: 26,
  call: false,
  highPressureOpen: false,
  lowPressureOpen: false,
};

export type RehearsalLane = 'call' | 'high-pressure' | 'low-pressure' | 'output' | 'alarm';

/** From `at` on (ms) the lane is on or off; the first edge is what holds at the beginning. */
export interface LaneEdge {
  readonly at: number;
  readonly on: boolean;
}

/** A state of the control, from then until the next. */
export interface RehearsedPhase {
  readonly phase: ControlPhase;
  readonly from: number;
  /** as it stood at the end: until when it waits, ms; null: it waits for nothing that time brings */
  readonly due: number | null;
}

export interface Rehearsed {
  readonly lanes: Readonly<Record<RehearsalLane, readonly LaneEdge[]>>;
  readonly volts: readonly { readonly at: number; readonly volts: number }[];
  readonly phases: readonly RehearsedPhase[];
  /** what the control did and why, ms from 0 */
  readonly changes: readonly { readonly at: number; readonly change: ControlChange }[];
  /** as asked for at the end */
  readonly inputs: ControlInputs;
  /** when it next does something by itself, ms; null: never, as it stands */
  readonly due: number | null;
}

/** Long before 0: every wait is over by then. */
const SETTLED_MS = -20_000_000;
const OPENED_MS = -10_000_000;

const instantOf = (ms: number): Instant => seconds(ms / 1000);
const msOf = (at: Instant): number => at / 1000;

/** Plays it to `until`. */
export function rehearse({ settings, opening, steps, until }: Rehearsal): Rehearsed {
  const model = control(settings);
  const record = new Recorder();
  let state = model.settled(instantOf(SETTLED_MS));
  let inputs = opening;
  const take = (at: Instant): void => {
    const step = model.step(state, seenBy(inputs), at);
    state = step.state;
    record.take(msOf(at), inputs, { state, output: step.output, alarm: step.alarm, changes: step.changes });
  };
  const advance = (before: Instant): void => {
    for (let due = model.deadline(state); due !== null && due < before; due = model.deadline(state))
      take(due);
  };
  take(instantOf(OPENED_MS));
  for (const { at, change } of steps) {
    if (at > until) break;
    advance(instantOf(at));
    inputs = { ...inputs, ...change };
    take(instantOf(at));
  }
  advance(instantOf(until) + 1);
  const due = model.deadline(state);
  return record.done(inputs, due === null ? null : msOf(due));
}

/** The call is fed from control power. */
const seenBy = (inputs: ControlInputs): ControlInputs => ({
  ...inputs,
  call: inputs.call && inputs.controlVoltage >= NO_POWER_BELOW,
});

interface Taken {
  readonly state: ControlState;
  readonly output: boolean;
  readonly alarm: boolean;
  readonly changes: readonly ControlChange[];
}

class Recorder {
  readonly #lanes: Record<RehearsalLane, LaneEdge[]> = {
    call: [],
    'high-pressure': [],
    'low-pressure': [],
    output: [],
    alarm: [],
  };
  readonly #volts: { at: number; volts: number }[] = [];
  readonly #phases: { phase: ControlPhase; from: number; due: number | null }[] = [];
  readonly #changes: { at: number; change: ControlChange }[] = [];

  take(at: number, inputs: ControlInputs, { state, output, alarm, changes }: Taken): void {
    const seen = seenBy(inputs);
    this.#edge('call', at, seen.call);
    this.#edge('high-pressure', at, seen.highPressureOpen);
    this.#edge('low-pressure', at, seen.lowPressureOpen);
    this.#edge('output', at, output);
    this.#edge('alarm', at, alarm);
    if (this.#volts.at(-1)?.volts !== seen.controlVoltage)
      this.#volts.push({ at, volts: seen.controlVoltage });
    const phase = state.awaySince === null ? state.phase : 'no-power';
    const due = state.waitUntil === null ? null : msOf(state.waitUntil);
    const last = this.#phases.at(-1);
    if (last?.phase !== phase || msOf(state.since) === at) this.#phases.push({ phase, from: at, due });
    else last.due = due;
    this.#changes.push(...changes.map((change) => ({ at: msOf(change.at), change })));
  }

  done(inputs: ControlInputs, due: number | null): Rehearsed {
    return {
      lanes: this.#lanes,
      volts: this.#volts,
      phases: this.#phases.filter(({ from }, i) => this.#phases[i + 1]?.from !== from),
      changes: this.#changes.filter(({ at }) => at >= 0),
      inputs,
      due,
    };
  }

  #edge(lane: RehearsalLane, at: number, on: boolean): void {
    if (this.#lanes[lane].at(-1)?.on !== on) this.#lanes[lane].push({ at, on });
  }
}

/** Edges from 0 on, as handbook 2.3 writes them, in seconds: `on 100`, `off 500`. */
export const edgeWords = (edges: readonly LaneEdge[]): string[] =>
  edges
    .filter(({ at }, i) => at >= 0 && (i > 0 || edges[0]!.on))
    .map(({ at, on }) => `${on ? 'on' : 'off'} ${at / 1000}`);

/**
 * The rehearsal with something changed now; what was to come of the same inputs is gone, the others go on. Null: its bound is
 * reached.
 */
export function changedNow(rehearsal: Rehearsal, change: Partial<ControlInputs>): Rehearsal | null {
  const { steps, until } = rehearsal;
  const names = Object.keys(change);
  const later = steps.flatMap(({ at, change: then }) => {
    if (at <= until) return [];
    const kept = Object.fromEntries(Object.entries(then).filter(([name]) => !names.includes(name)));
    return Object.keys(kept).length === 0 ? [] : [{ at, change: kept as Partial<ControlInputs> }];
  });
  const before = steps.filter(({ at }) => at < until);
  const now = steps.find(({ at }) => at === until);
  const all = [...before, { at: until, change: { ...now?.change, ...change } }, ...later];
  return all.length > REHEARSAL_BOUNDS.steps ? null : { ...rehearsal, steps: all };
}

/** Also at a later time: what lasts for so long, as a dip. */
export function changedFor(
  rehearsal: Rehearsal,
  milliseconds: number,
  { during, after }: { readonly during: Partial<ControlInputs>; readonly after: Partial<ControlInputs> },
): Rehearsal | null {
  const { until } = rehearsal;
  const begun = changedNow(rehearsal, during);
  const ended = begun && changedNow({ ...begun, until: until + milliseconds }, after);
  return ended && { ...ended, until };
}
