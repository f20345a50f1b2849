import type { Instant } from '../base/instant.ts';
import { takeCall } from './call.ts';
import { stopForPressure } from './lockout.ts';
import { dropForVoltage, reset, takePower } from './power.ts';
import { enter, type Run } from './run.ts';
import { controlSpans, type ControlSettings, type ControlSpans } from './settings.ts';
import { tryStart } from './start.ts';
import {
  alarmOn,
  NO_POWER_BELOW,
  outputOn,
  type ControlChange,
  type ControlInputs,
  type ControlState,
} from './state.ts';

/**
 * The reference protection control, handbook 2.2: what it holds off, what it stops, when it tries again, when it gives
 * up. Driven by inputs and time only; every number is a setting.
 *
 * States: no power; power-up delay; ready; off-cycle delay; running; soft lockout (a protective stop, one retry);
 * undervoltage hold; hard lockout (until the call or control power is broken).
 * At one instant: power, call, switches, timers; a start is decided last, with everything that is true by then. So each
 * instant takes one step, with all that holds at it; steps between, with nothing new, change nothing.
 */
export interface Control {
  readonly settings: ControlSettings;
  /** a control that has had power, and no call, for long */
  settled(t: Instant): ControlState;
  /** inputs hold from `t` on; what the old ones still cause before `t` happens at its own time */
  step(state: ControlState, inputs: ControlInputs, t: Instant): ControlStep;
  /** when this state will change by itself, if the inputs stay; null: never */
  deadline(state: ControlState): Instant | null;
}

export interface ControlStep {
  /** the very same object where nothing happened */
  readonly state: ControlState;
  readonly output: boolean;
  readonly alarm: boolean;
  /** in time order */
  readonly changes: readonly ControlChange[];
  readonly deadline: Instant | null;
}

const NOTHING: readonly ControlChange[] = [];

export function control(settings: ControlSettings): Control {
  const spans = controlSpans(settings);
  const trip = settings.undervoltageTrip ?? -1;

  const sees = (state: ControlState, inputs: ControlInputs): boolean => {
    const away = inputs.controlVoltage < NO_POWER_BELOW;
    const wasAway = state.awaySince !== null || state.phase === 'no-power';
    if (away !== wasAway) return true;
    const low = inputs.controlVoltage < trip ? inputs.controlVoltage : null;
    return (
      (!away && low !== state.lowVoltage) ||
      (state.awaySince === null && inputs.call !== state.call) ||
      inputs.highPressureOpen !== state.highOpen ||
      inputs.lowPressureOpen !== (state.lowOpenSince !== null)
    );
  };

  const step = (state: ControlState, inputs: ControlInputs, t: Instant): ControlStep => {
    const due = deadline(state, spans);
    if ((due === null || due > t) && !sees(state, inputs)) return result(state, NOTHING, due);
    const run: Run = { settings, spans, draft: { ...state }, changes: [], occasion: 'call' };
    runTimers(run, t, false);
    run.occasion = 'call';
    takePower(run, inputs.controlVoltage, t);
    // within the hold-up the call, which is fed from control power, is gone with it: power explains both
    if (run.draft.awaySince === null) takeCall(run, inputs.call, t);
    takeSwitches(run, inputs, t);
    runTimers(run, t, true);
    tryStart(run, t);
    return result(run.draft, run.changes, deadline(run.draft, spans));
  };

  return {
    settings,
    settled: (t) => ({ ...SETTLED, since: t }),
    step,
    deadline: (state) => deadline(state, spans),
  };
}

/** Powered, well and idle, with every wait long over. */
export const SETTLED: ControlState = {
  phase: 'ready',
  since: 0,
  awaySince: null,
  call: false,
  lowVoltage: null,
  highOpen: false,
  lowOpenSince: null,
  startedAt: null,
  stoppedAt: null,
  waitUntil: null,
  delayAgain: false,
  highStops: 0,
  lowStops: 0,
  cause: null,
};

const result = (
  state: ControlState,
  changes: readonly ControlChange[],
  due: Instant | null,
): ControlStep => ({ state, output: outputOn(state), alarm: alarmOn(state), changes, deadline: due });

function deadline(state: ControlState, spans: ControlSpans): Instant | null {
  if (state.awaySince !== null) return state.awaySince + spans.holdUp;
  if (state.phase !== 'running') return state.waitUntil;
  const undervoltage = state.lowVoltage === null ? null : state.startedAt! + spans.grace;
  const lowPressure = bypassOver(state, spans);
  if (undervoltage === null || lowPressure === null) return undervoltage ?? lowPressure;
  return Math.min(undervoltage, lowPressure);
}

/** An open low-pressure switch is tolerated from its opening or from the start, whichever is later. */
const bypassOver = (state: ControlState, spans: ControlSpans): Instant | null =>
  state.lowOpenSince === null ? null : Math.max(state.lowOpenSince, state.startedAt!) + spans.bypass;

/** Whatever falls due before `t`, at its own time and under the old inputs; at `t` itself only once the new ones are in. */
function runTimers(run: Run, t: Instant, inclusive: boolean): void {
  for (;;) {
    const due = deadline(run.draft, run.spans);
    if (due === null || due > t || (due === t && !inclusive)) return;
    fire(run, inclusive ? t : due);
    if (!inclusive) tryStart(run, due);
  }
}

function fire(run: Run, at: Instant): void {
  const { draft, spans } = run;
  if (draft.awaySince !== null) return reset(run, at);
  if (draft.phase === 'running') {
    if (draft.lowVoltage !== null && draft.startedAt! + spans.grace <= at) return dropForVoltage(run, at);
    return stopForPressure(run, 'low-pressure', at);
  }
  draft.waitUntil = null;
  run.occasion = 'wait';
  const lockedOut = draft.phase === 'soft-lockout' || draft.phase === 'undervoltage-hold';
  if (!draft.call) enter(run, 'ready', at);
  else if (!lockedOut && draft.lowVoltage !== null) enter(run, 'ready', at);
}

function takeSwitches(run: Run, inputs: ControlInputs, t: Instant): void {
  const { draft } = run;
  draft.highOpen = inputs.highPressureOpen;
  if (!inputs.lowPressureOpen) draft.lowOpenSince = null;
  else draft.lowOpenSince ??= t;
  if (draft.highOpen && draft.phase === 'running' && draft.awaySince === null)
    stopForPressure(run, 'high-pressure', t);
}
