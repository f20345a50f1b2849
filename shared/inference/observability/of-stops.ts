import type { EventCause } from '../event.ts';
import { isNarrow, seesThroughout, type Eyes } from './eyes.ts';
import {
  certain,
  least,
  most,
  notAtAll,
  possible,
  probable,
  rankOf,
  type Knowable,
  type Known,
  type Verdict,
} from './knowable.ts';

/** Runs, why they stopped, and the lockouts and holds that follow (handbook 4 rules 1 to 4 and 6). */
export function ofStops(eyes: Eyes): Knowable[] {
  return [...runs(eyes), ...softLockouts(eyes), hold(eyes), ...hardLockouts(eyes), ...resets(eyes)];
}

type Stop = 'high-pressure' | 'low-pressure' | 'undervoltage';

export const NO_RUN =
  'nothing that shows the compressor is wired: not the output, nor the contactor, nor its current';
const UPSTREAM = 'the call is sensed upstream: whatever holds it off after that looks like a stop';
const NO_CALL = 'with no call contact a protective stop can’t be told from a satisfied thermostat';

export const noCall = ({ upstream }: Eyes): string => (upstream ? UPSTREAM : NO_CALL);

const row = (
  kind: Knowable['kind'],
  cause: EventCause | null,
  existence: Verdict,
  why: Verdict | null = null,
): Knowable => ({
  kind,
  cause,
  about: 'unit',
  known: existence.known,
  causeKnown: why && least(existence.known === 'not-at-all' ? 'not-at-all' : 'certain', why.known),
  because: why && rankOf(why.known) < rankOf(existence.known) ? why.because : existence.because,
});

function runs(eyes: Eyes): Knowable[] {
  const existence = eyes.run ? certain('each start and stop is seen') : notAtAll(NO_RUN);
  const why: Partial<Record<EventCause, Verdict>> = {
    'call-ended': callEnded(eyes),
    'power-lost': powerLost(eyes),
    'high-pressure': stoppedBy(eyes, 'high-pressure'),
    'low-pressure': stoppedBy(eyes, 'low-pressure'),
    undervoltage: stoppedBy(eyes, 'undervoltage'),
    pressure: possible('which switch it was isn’t seen'),
    unknown: possible('it is what is said where nothing tells'),
  };
  return Object.entries(why).map(([cause, verdict]) =>
    row('compressor-run', cause as EventCause, existence, verdict),
  );
}

function callEnded(eyes: Eyes): Verdict {
  const { call, power, high } = eyes;
  if (!call) return possible(noCall(eyes));
  if (!isNarrow(call))
    return probable(`the call is looked at each ${call.every} s: the output could have gone off first`);
  if (!power) return probable('control voltage is not wired, and a power loss drops the call too');
  if (!power.onChange)
    return probable(`an outage shorter than the ${power.every} s between two samples would look the same`);
  // one in a loop that the call feeds goes dark with the call
  if (high?.point.sense !== 'isolated')
    return probable('with no high-pressure contact of its own a trip in the same moment would look the same');
  return certain('the call is seen to go, and power and pressure to stay');
}

function powerLost({ power }: Eyes): Verdict {
  if (!power)
    return notAtAll('with no control voltage a power loss looks like the end of the call, or a stop');
  if (isNarrow(power)) return certain('control voltage is seen to go with the output');
  return probable(`control voltage is seen each ${power.every} s only`);
}

/** That it stopped by itself, the call being there: how surely? */
function stayed(eyes: Eyes): Verdict {
  const { call } = eyes;
  if (!call) return possible(noCall(eyes));
  if (!call.onChange)
    return probable(`a call break shorter than the ${call.every} s between two looks would look the same`);
  return certain('the call is seen to stay');
}

/** The cause of a protective stop. */
function stoppedBy(eyes: Eyes, cause: Stop): Verdict {
  const stay = stayed(eyes);
  const tells = { 'high-pressure': byHigh, 'low-pressure': byLow, undervoltage: byVoltage }[cause](eyes);
  const known = least(stay.known, tells.known);
  return { known, because: tells.known === known ? tells.because : stay.because };
}

function byHigh({ high, low }: Eyes): Verdict {
  if (high?.onChange) return certain('its switch is seen to open with the stop');
  if (high) return probable(`its switch is looked at each ${high.every} s, and may be closed again by then`);
  if (low) return probable('its switch is not wired: told by the other switch having stayed closed');
  return probable('told by time alone: a stop sooner than the low-pressure bypass can’t be low pressure');
}

function byLow(eyes: Eyes): Verdict {
  const { high, low } = eyes;
  if (!low && high) return probable('its switch is not wired: told by the other switch having stayed closed');
  if (!low) return probable('told by time alone, where a retry stops just when the bypass runs out');
  if (!high || (!high.onChange && high.every > 2))
    return probable('its switch is seen open; a trip of the high-pressure switch isn’t excluded');
  if (!excludesUndervoltage(eyes))
    return probable('its switch is seen open; a dip of control voltage isn’t excluded');
  return certain('its switch is seen open for the whole bypass, and nothing else happened');
}

function byVoltage({ power, high, low, unit }: Eyes): Verdict {
  if (unit.protection.undervoltageTrip.value === null)
    return notAtAll('this control is recorded to have no undervoltage trip');
  if (!power) return possible('control voltage is not wired');
  if (isNarrow(power) && high?.onChange && low)
    return certain('the dip is seen, and both pressure switches closed');
  if (!isNarrow(power)) return probable(`control voltage is seen each ${power.every} s only`);
  return probable('the dip is seen; a pressure stop in the same moment isn’t excluded');
}

const excludesUndervoltage = ({ power, unit }: Eyes): boolean =>
  unit.protection.undervoltageTrip.value === null || seesThroughout(power);

/** That it was a protective stop of this cause at all. */
function protectiveStop(eyes: Eyes, seen: boolean): Verdict {
  if (!eyes.run) return notAtAll(NO_RUN);
  if (!eyes.call) return seen ? possible(noCall(eyes)) : notAtAll(noCall(eyes));
  const stay = stayed(eyes);
  if (seen || excludesUndervoltage(eyes)) return stay;
  return probable('neither its switch nor control voltage tells: it could have been a dip');
}

function softLockouts(eyes: Eyes): Knowable[] {
  return [
    row('soft-lockout', 'high-pressure', protectiveStop(eyes, !!eyes.high), stoppedBy(eyes, 'high-pressure')),
    row('soft-lockout', 'low-pressure', protectiveStop(eyes, !!eyes.low), stoppedBy(eyes, 'low-pressure')),
    row('soft-lockout', 'pressure', protectiveStop(eyes, false), possible('which switch it was isn’t seen')),
  ];
}

function hold(eyes: Eyes): Knowable {
  if (!eyes.run) return row('undervoltage-hold', null, notAtAll(NO_RUN));
  const dip = byVoltage(eyes);
  if (dip.known === 'not-at-all' || !eyes.power) return row('undervoltage-hold', null, dip);
  // that it dropped for the voltage is what makes it a hold and no soft lockout
  const stay = stayed(eyes);
  const known = least(stay.known, dip.known);
  return row('undervoltage-hold', null, { known, because: dip.known === known ? dip.because : stay.because });
}

export function latched(eyes: Eyes): Verdict {
  const { alarm, sharedAlarm, call, run, power } = eyes;
  const held = call !== null && run !== null;
  if (sharedAlarm)
    return held
      ? probable(
          'one alarm contact serves several units: it proves one of them, and this one’s stops were seen',
        )
      : possible('one alarm contact serves several units: it proves one of them');
  if (!alarm)
    return held
      ? probable('no alarm contact: told once two stops were counted or a retry is overdue')
      : notAtAll(call ? NO_RUN : `no alarm contact, and ${noCall(eyes)}`);
  if (held && power)
    return certain('the alarm is seen with the call there, the output off and power present');
  const missing = [call ? '' : 'the call', run ? '' : 'the output', power ? '' : 'control power'].filter(
    Boolean,
  );
  return probable(
    `the alarm alone tells, if its circuit is wired as recorded: ${missing.join(' and ')} isn’t seen with it`,
  );
}

/** The last stop of the call says why; with no stops seen, an open high-pressure switch. */
function latchedBy(eyes: Eyes, cause: 'high-pressure' | 'low-pressure'): Verdict {
  if (eyes.call && eyes.run) return stoppedBy(eyes, cause);
  if (cause === 'high-pressure' && eyes.high) return probable('its switch is seen open with the alarm');
  return possible('the stops before it aren’t seen');
}

function hardLockouts(eyes: Eyes): Knowable[] {
  const existence = latched(eyes);
  return [
    row('hard-lockout', 'high-pressure', existence, latchedBy(eyes, 'high-pressure')),
    row('hard-lockout', 'low-pressure', existence, latchedBy(eyes, 'low-pressure')),
    row('hard-lockout', 'pressure', existence, possible('which switch it was isn’t seen')),
    row('hard-lockout', 'unknown', existence, possible('the stops before it aren’t seen')),
  ];
}

function resets(eyes: Eyes): Knowable[] {
  const existence = latched(eyes);
  const { call, power } = eyes;
  const byCall = call
    ? certain('the call is seen to break')
    : power?.onChange
      ? probable('power was seen to stay')
      : possible('neither call nor power is seen without a break');
  const byPower = power
    ? certain('control power is seen to break')
    : call?.onChange
      ? probable('the call was seen to stay')
      : possible('neither call nor power is seen without a break');
  const causes: Known = most(latchedBy(eyes, 'high-pressure').known, latchedBy(eyes, 'low-pressure').known);
  return [
    row('lockout-reset', 'call-broken', existence, byCall),
    row('lockout-reset', 'power-broken', existence, byPower),
    row('repeated-reset', null, {
      known: existence.known === 'not-at-all' ? 'not-at-all' : least(existence.known, causes),
      because: 'the same cause must be seen to have locked it out twice',
    }),
  ];
}
