import type { ControlChange, ControlInputs, ControlPhase, ControlReason } from '../control/state.ts';
import { NO_POWER_BELOW } from '../control/state.ts';
import type { Rehearsed } from '../replay/rehearsal.ts';
import { clockLength, drawnLength } from './durations.ts';

/** What happens in a rehearsal, in sentences: what was given to the control, and what it did and why (handbook 2.2). */
export function inputSentences(change: Partial<ControlInputs>): string[] {
  const { call, highPressureOpen, lowPressureOpen, controlVoltage } = change;
  return [
    ...(controlVoltage === undefined ? [] : [voltsSentence(controlVoltage)]),
    ...(call === undefined
      ? []
      : [call ? 'The thermostat calls for cooling.' : 'The thermostat is satisfied: no call.']),
    ...(highPressureOpen === undefined
      ? []
      : [highPressureOpen ? 'The high-pressure switch opens.' : 'The high-pressure switch closes.']),
    ...(lowPressureOpen === undefined
      ? []
      : [lowPressureOpen ? 'The low-pressure switch opens.' : 'The low-pressure switch closes.']),
  ];
}

const voltsSentence = (volts: number): string =>
  volts < NO_POWER_BELOW
    ? 'Control power goes, and the call that is fed from it.'
    : `Control voltage is ${String(volts)} V.`;

const WHAT: Readonly<Record<ControlChange['kind'], string>> = {
  started: 'Output on: the compressor starts',
  stopped: 'Output off: the compressor stops',
  held: 'Held off',
  latched: 'Hard lockout, alarm on',
  reset: 'The hard lockout is reset',
  waiting: 'The power-up delay (delay on make) begins',
};

/** "Output off: the compressor stops – the high-pressure switch opened (first stop in this call)." */
export const changeSentence = ({ kind, reason }: ControlChange): string =>
  `${kind === 'held' ? heldAs(reason) : WHAT[kind]} – ${because(reason)}.`;

const heldAs = ({ code }: ControlReason): string =>
  code === 'undervoltage'
    ? 'Undervoltage hold: it may start when the off-cycle delay is over and the voltage is back'
    : 'Soft lockout: it retries when the off-cycle delay is over';

const WAITS: Readonly<Partial<Record<ControlPhase, string>>> = {
  'power-up-delay': 'power-up delay (delay on make)',
  'off-delay': 'off-cycle delay (delay on break)',
  'soft-lockout': 'wait of the soft lockout',
  'undervoltage-hold': 'wait after undervoltage',
};

const nth = (stop: number): string => (stop <= 1 ? 'first stop in this call' : 'second stop in this call');

/** Total: a reason without words doesn't compile. */
function because(reason: ControlReason): string {
  switch (reason.code) {
    case 'call-came':
      return 'the call came, and nothing stood against it';
    case 'wait-over':
      return `the ${WAITS[reason.wait] ?? 'wait'} of ${drawnLength(reason.waited)} is over`;
    case 'voltage-recovered':
      return 'the control voltage is back';
    case 'held-up':
      return `the power was away for ${drawnLength(reason.away)} only, which the control rode through`;
    case 'call-ended':
      return 'the call ended';
    case 'high-pressure':
      return `the high-pressure switch opened (${nth(reason.stop)})`;
    case 'high-pressure-at-start':
      return `the high-pressure switch is open where it would start (${nth(reason.stop)})`;
    case 'low-pressure':
      return `the low-pressure switch has been open for ${drawnLength(reason.openFor)}, the whole bypass (${nth(reason.stop)})`;
    case 'low-pressure-at-retry':
      return 'the low-pressure switch is still open at the retry';
    case 'undervoltage':
      return `${reason.volts} V is below the trip of ${reason.trip} V`;
    case 'power-lost':
      return 'control power went';
    case 'power-returned':
      return 'control power is back';
    case 'call-broken':
      return 'the call was broken';
    case 'power-broken':
      return 'control power was broken';
  }
}

/** The trade's terms for what the control is in. */
export const REHEARSED_TERMS: Record<ControlPhase, string> = {
  running: 'Running',
  ready: 'Ready',
  'no-power': 'No control power',
  'off-delay': 'Off-cycle delay',
  'power-up-delay': 'Power-up delay',
  'soft-lockout': 'Soft lockout',
  'undervoltage-hold': 'Undervoltage hold',
  'hard-lockout': 'Hard lockout',
};

/** The page's first line: what the control does now, and what it waits for. */
export function standingSentence({ phases, due, inputs }: Rehearsed, now: number): string {
  const phase = phases.at(-1)?.phase ?? 'ready';
  const left = due === null ? null : clockLength(Math.ceil((due - now) / 1000));
  switch (phase) {
    case 'running':
      return left === null ? 'It runs.' : `It runs, and will stop in ${left} if nothing changes.`;
    case 'hard-lockout':
      return 'Hard lockout – stays off until the call or the power is broken.';
    case 'no-power':
      return 'It has no control power.';
    case 'ready':
      return inputs.call ? 'It waits for the control voltage.' : 'Ready: it starts when the call comes.';
    case 'off-delay':
    case 'power-up-delay':
    case 'soft-lockout':
    case 'undervoltage-hold':
      if (left === null) return `${REHEARSED_TERMS[phase]} – until the voltage is back.`;
      return `${REHEARSED_TERMS[phase]} – ${phase === 'soft-lockout' ? 'retries' : 'over'} in ${left}.`;
  }
}
