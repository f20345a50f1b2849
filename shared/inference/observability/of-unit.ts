import { seesThroughout, type Eyes } from './eyes.ts';
import { certain, notAtAll, possible, probable, type Knowable, type Verdict } from './knowable.ts';
import { NO_RUN } from './of-stops.ts';

/** What a unit's wiring tells beside its stops (handbook 4 rules 5 and 7 to 12). */
export function ofUnit(eyes: Eyes): Knowable[] {
  return [
    shorter(eyes, row('short-cycle', 'delay-not-kept', delayNotKept(eyes))),
    row('short-cycle', 'too-many-starts', eyes.run ? certain('each start is seen') : notAtAll(NO_RUN)),
    shorter(eyes, row('setting-mismatch', null, mismatch(eyes))),
    row('stuck-contactor', null, conductor(eyes)),
    row('failed-start', 'at-start', conductor(eyes)),
    row('failed-start', 'in-run', conductor(eyes)),
    row('alarm-circuit-fault', 'silent', silent(eyes)),
    row('alarm-circuit-fault', 'unexplained', unexplained(eyes)),
    row('control-disagrees', null, shadow(eyes)),
    ...voltage(eyes),
    row('weak-cooling', 'air-difference', airDifference(eyes)),
    row('weak-cooling', 'temperature-rising', rising(eyes)),
    ...powerLosses(eyes),
    ...silences(eyes),
  ];
}

/** The cause is in the name of the kind: as sure as that it happened. */
const row = (kind: Knowable['kind'], cause: Knowable['cause'], { known, because }: Verdict): Knowable => ({
  kind,
  cause,
  about: 'unit',
  known,
  causeKnown: cause === null ? null : known,
  because,
});

const isRecorded = ({ unit }: Eyes): boolean => unit.protection.offDelay.known === 'recorded';
const NOT_RECORDED = 'the off-cycle delay isn’t recorded, and nothing is held against an assumed one';

function delayNotKept(eyes: Eyes): Verdict {
  if (!eyes.run) return notAtAll(NO_RUN);
  if (!isRecorded(eyes)) return notAtAll(NOT_RECORDED);
  if (seesThroughout(eyes.power)) return certain('power is seen to stay through the off time');
  const { powerUpBase, powerUpShare } = eyes.unit.protection;
  if (eyes.power && powerUpBase.known === 'recorded' && powerUpShare.known === 'recorded')
    return certain('after a power return that is seen; else an outage between two samples isn’t excluded');
  return probable(
    eyes.power
      ? `an outage shorter than the ${eyes.power.every} s between two samples could have set the power-up delay going`
      : 'control voltage is not wired: an outage could have set the power-up delay going',
  );
}

/** Where power isn't seen throughout, an off time as long as the power-up delay may have been one (handbook 4 rule 7). */
function shorter({ power, unit }: Eyes, found: Knowable): Knowable {
  if (found.known === 'not-at-all' || seesThroughout(power)) return found;
  const { powerUpBase, powerUpShare, offDelay, tolerance } = unit.protection;
  const powerUp = powerUpBase.value + powerUpShare.value * offDelay.value;
  return { ...found, belowSeconds: Math.round(powerUp * (1 - tolerance) * 10) / 10 };
}

function mismatch(eyes: Eyes): Verdict {
  if (!eyes.run) return notAtAll(NO_RUN);
  if (!eyes.call) return notAtAll('only restarts for which a call was seen to wait measure a delay');
  if (!isRecorded(eyes)) return notAtAll(NOT_RECORDED);
  if (seesThroughout(eyes.power)) return certain('restarts with the call waiting measure the delay');
  return probable('restarts measure the delay; power isn’t seen to stay meanwhile');
}

function conductor({ run, current }: Eyes): Verdict {
  if (!current) return notAtAll('no current is measured in the compressor’s own conductor');
  if (!run) return notAtAll(NO_RUN);
  return certain('output and current are seen side by side');
}

function silent({ alarm, sharedAlarm, call, run }: Eyes): Verdict {
  if (sharedAlarm) return notAtAll('one alarm contact serves several units');
  if (!alarm) return notAtAll('no alarm contact is wired');
  if (!call || !run) return notAtAll('that the control must have latched isn’t seen without call and output');
  return probable('stops and an overdue retry are seen while the alarm contact doesn’t move');
}

function unexplained({ alarm, sharedAlarm, call, run }: Eyes): Verdict {
  if (sharedAlarm) return notAtAll('one alarm contact serves several units');
  if (!alarm) return notAtAll('no alarm contact is wired');
  if (run) return certain('the alarm is seen while the output is on');
  if (call) return probable('the alarm is seen with no call');
  return notAtAll('neither call nor output is seen beside the alarm');
}

/** What the shadow control can hold against the output (unit/shadow-ways.ts). */
function shadow({ run, call, power, high }: Eyes): Verdict {
  if (run?.point.signal !== 'compressor-output')
    return notAtAll('no contact at the control’s output: it can’t be held against the reference control');
  const against = [call, power, high].filter((eye) => eye !== null);
  if (against.length === 0)
    return notAtAll(
      'neither its call, nor power, nor high pressure is seen: nothing to hold the output against',
    );
  if (run.onChange && against.some((eye) => eye.onChange))
    return certain('the output is held against what the control sees');
  return probable('the output is held against what the control sees, looked at from time to time');
}

function voltage({ power, run, panel }: Eyes): Knowable[] {
  const kind = 'control-voltage-out-of-range';
  const low = !power
    ? notAtAll('control voltage is not wired')
    : run
      ? certain('control voltage is seen while it runs')
      : notAtAll(NO_RUN);
  const high = power ? certain('control voltage is seen') : notAtAll('control voltage is not wired');
  const tap = panel ? high : notAtAll('the panel’s voltage isn’t recorded');
  return [
    row(kind, 'low', low),
    row(kind, 'high', high),
    { ...row(kind, 'wrong-tap', tap), causeKnown: tap.known === 'certain' ? 'probable' : tap.known },
  ];
}

function airDifference({ run, air }: Eyes): Verdict {
  if (!air) return notAtAll('supply and return air aren’t both measured');
  return run ? certain('supply and return air are seen while it runs') : notAtAll(NO_RUN);
}

function rising({ run, roomTemperature }: Eyes): Verdict {
  if (!roomTemperature) return notAtAll('no room temperature is measured');
  return run ? possible('the room may warm for other reasons') : notAtAll(NO_RUN);
}

/** Concluded on the panel, about this unit (handbook 4 rule 10). */
function powerLosses(eyes: Eyes): Knowable[] {
  const { power, line, utilityFailed, others } = eyes;
  const gone = power ? certain('control voltage is seen to go') : notAtAll('control voltage is not wired');
  const beside = others.some((other) => other.points.some(({ signal }) => signal === 'control-voltage'));
  const supply = line || utilityFailed;
  const [known, because] = supply
    ? (['certain', 'the panel’s supply is seen beside it'] as const)
    : beside
      ? (['probable', 'only the other units of the panel tell what the supply did'] as const)
      : (['not-at-all', 'nothing beside this unit tells what the supply did'] as const);
  const cause = (name: 'supply' | 'unit-only'): Knowable => {
    // another unit that had power proves it was this one alone
    const alone = name === 'unit-only' && beside ? 'certain' : known;
    const at = power ? alone : 'not-at-all';
    return { ...row('power-loss', name, gone), causeKnown: at, because: power ? because : gone.because };
  };
  return [
    cause('supply'),
    cause('unit-only'),
    { ...row('power-loss', 'unknown', gone), causeKnown: power ? 'possible' : 'not-at-all' },
  ];
}

/** Silence is concluded only where something was promised (handbook 3). */
function silences({ site, unit }: Eyes): Knowable[] {
  const gateways = site.gateways.filter(({ id }) => unit.points.some(({ gateway }) => gateway === id));
  const promised = gateways.filter(({ heartbeatSeconds }) => heartbeatSeconds !== null);
  const polled = unit.points.filter(({ reporting }) => reporting.mode === 'polled');
  const all = unit.points.every(
    ({ reporting, gateway }) => reporting.mode === 'polled' || promised.some(({ id }) => id === gateway),
  );
  const point = all
    ? certain('each of its points is polled or has a gateway with a promised heartbeat')
    : polled.length > 0
      ? certain('of its polled points; those on change may be silent for ever with nothing to tell')
      : notAtAll(
          'its points report on change, and no heartbeat is promised: silence may mean that all is well',
        );
  const gateway =
    promised.length > 0
      ? certain('its gateway has promised a heartbeat')
      : notAtAll('its gateway has promised no heartbeat');
  return [
    row('telemetry-gap', 'point-silent', point),
    row('telemetry-gap', 'gateway-silent', gateway),
    row('telemetry-gap', 'not-watched', certain('this program knows when it was listening')),
  ];
}
