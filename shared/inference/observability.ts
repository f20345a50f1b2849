import type { Unit } from '../telemetry/site.ts';
import type { SignalName } from '../telemetry/signals.ts';

/** What a unit's wiring lets one know and what not, in plain words (handbook 3). */
export interface Observation {
  readonly can: boolean;
  readonly says: string;
}

export function observabilityOf(unit: Unit): Observation[] {
  const wired = new Map(unit.points.map((point) => [point.signal, point]));
  const has = (signal: SignalName) => wired.has(signal);
  return [
    runs(has),
    stops(wired.get('cooling-call')?.sense ?? null, has('high-pressure') || has('low-pressure')),
    pressures(has),
    has('lockout-alarm')
      ? can('A hard lockout is told by the control’s own alarm.')
      : cannot('With no alarm contact a hard lockout is only probable, once a retry is overdue.'),
    has('control-voltage')
      ? can('A loss of control power and a low voltage are seen.')
      : cannot('With no control voltage a power loss can’t be told from a stop.'),
    has('compressor-current')
      ? can('A welded contactor and a compressor that doesn’t start are seen.')
      : cannot('With no compressor current nobody sees whether the compressor follows its contactor.'),
    ...shadow(unit, has),
    ...polling(unit),
  ];
}

const can = (says: string): Observation => ({ can: true, says });
const cannot = (says: string): Observation => ({ can: false, says });

function runs(has: (signal: SignalName) => boolean): Observation {
  if (has('compressor-output')) return can('Runs are seen at the control’s output.');
  if (has('contactor-voltage')) return can('Runs are seen at the contactor’s coil.');
  if (has('compressor-current')) return can('Runs are seen by the compressor’s current.');
  return cannot('With nothing that shows the compressor, runs, starts and short cycles can’t be told.');
}

function stops(sense: 'own' | string | null, pressure: boolean): Observation {
  if (sense === 'own') return can('A stop while the call stays is told from a satisfied thermostat.');
  if (sense === null)
    return cannot(
      `With no call contact a ${pressure ? 'protective' : 'pressure'} stop can’t be told from a satisfied thermostat.`,
    );
  return cannot('The call is sensed upstream: what holds it off after that looks like a stop.');
}

function pressures(has: (signal: SignalName) => boolean): Observation {
  if (has('high-pressure') && has('low-pressure')) return can('High and low pressure are told apart.');
  if (has('high-pressure'))
    return cannot('With no low-pressure contact a low-pressure stop is told by timing alone.');
  if (has('low-pressure'))
    return cannot('With no high-pressure contact a high-pressure stop is told by timing alone.');
  return cannot('With no pressure contacts the cause of a stop is told by timing alone, or not at all.');
}

/** What the shadow control can hold against the output (shadow-ways.ts). */
function shadow(unit: Unit, has: (signal: SignalName) => boolean): Observation[] {
  const point = (signal: SignalName) => unit.points.find((one) => one.signal === signal);
  const onChange = (signal: SignalName) => point(signal)?.reporting.mode === 'on-change';
  if (!has('compressor-output'))
    return [
      cannot('With no contact at the control’s output it can’t be held against the reference control.'),
    ];
  const own = point('cooling-call')?.sense === 'own';
  const against = [
    own && 'its call',
    has('high-pressure') && 'high pressure',
    has('control-voltage') && 'power',
  ];
  const named = against.filter((one) => one !== false);
  const on = named.length === 0 ? [] : [can(`An output that is on against ${named.join(', ')} is told.`)];
  const answered =
    own && onChange('cooling-call') && onChange('high-pressure') && has('control-voltage')
      ? can('A call that the control doesn’t answer, though nothing holds it off, is told.')
      : cannot(
          'A call that isn’t answered is told as the control’s fault only with its own call and the high-pressure switch on change, and control voltage.',
        );
  return [...on, answered];
}

function polling(unit: Unit): Observation[] {
  const periods = unit.points.flatMap(({ reporting }) =>
    reporting.mode === 'polled' ? [reporting.seconds] : [],
  );
  if (periods.length === 0) return [];
  const longest = Math.max(...periods);
  return [cannot(`What is over within ${longest} s can fall between two polls and isn’t seen.`)];
}
