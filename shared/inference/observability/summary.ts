import { listed } from './of-space.ts';
import { noCall } from './of-stops.ts';
import { isNarrow, type Eyes } from './eyes.ts';

/** What a unit's wiring lets one know and what not, in a few plain sentences (handbook 3). */
export interface Observation {
  readonly can: boolean;
  readonly says: string;
}

export const summaryOf = (eyes: Eyes): Observation[] => [
  runs(eyes),
  stops(eyes),
  pressures(eyes),
  lockouts(eyes),
  power(eyes),
  eyes.current
    ? can('A welded contactor and a compressor that doesn’t start are seen.')
    : cannot('With no compressor current nobody sees whether the compressor follows its contactor.'),
  ...shadow(eyes),
];

const can = (says: string): Observation => ({ can: true, says });
const cannot = (says: string): Observation => ({ can: false, says });

function runs({ run }: Eyes): Observation {
  switch (run?.point.signal) {
    case undefined:
      return cannot('With nothing that shows the compressor, runs, starts and short cycles can’t be told.');
    case 'contactor-voltage':
      return can('Runs are seen at the contactor’s coil.');
    case 'compressor-current':
      return can('Runs are seen by the compressor’s current.');
    default:
      return can('Runs are seen at the control’s output.');
  }
}

function stops(eyes: Eyes): Observation {
  if (eyes.call) return can('A stop while the call stays is told from a satisfied thermostat.');
  const says = noCall(eyes);
  return cannot(`${says[0]!.toUpperCase()}${says.slice(1)}.`);
}

function pressures({ high, low }: Eyes): Observation {
  if (high && low) return can('High and low pressure are told apart.');
  if (high)
    return cannot('With no low-pressure contact a low-pressure stop is told by what else didn’t happen.');
  if (low)
    return cannot('With no high-pressure contact a high-pressure stop is told by what else didn’t happen.');
  return cannot('With no pressure contacts the cause of a stop is told by timing alone, or not at all.');
}

function lockouts({ alarm, sharedAlarm }: Eyes): Observation {
  if (alarm) return can('A hard lockout is told by the control’s own alarm.');
  if (sharedAlarm) return cannot('The alarm contact serves several units: it proves one of them, not which.');
  return cannot('With no alarm contact a hard lockout is only probable, once a retry is overdue.');
}

function power({ power: eye }: Eyes): Observation {
  if (!eye) return cannot('With no control voltage a power loss can’t be told from a stop.');
  if (isNarrow(eye)) return can('A loss of control power and a low voltage are seen.');
  return can(`A loss of control power and a low voltage are seen where they last ${eye.every} s.`);
}

/** What the shadow control can hold against the output (unit/shadow-ways.ts). */
function shadow({ run, call, power: voltage, high, unit }: Eyes): Observation[] {
  if (run?.point.signal !== 'compressor-output')
    return [
      cannot('With no contact at the control’s output it can’t be held against the reference control.'),
    ];
  const wired = (signal: string) => unit.points.some((point) => point.signal === signal);
  const against = [
    ...(call ? ['its call'] : []),
    ...(wired('high-pressure') ? ['high pressure'] : []),
    ...(voltage ? ['power'] : []),
  ];
  const on = against.length > 0 ? [can(`An output that is on against ${listed(against)} is told.`)] : [];
  const answered =
    call?.onChange && high?.onChange && voltage
      ? can('A call that the control doesn’t answer, though nothing holds it off, is told.')
      : cannot(
          'A call that isn’t answered is told as the control’s fault only with its own call and the high-pressure switch on change, and control voltage.',
        );
  return [...on, answered];
}
