import { seconds } from '../../shared/base/instant.ts';
import type { EventKind } from '../../shared/inference/event.ts';
import type { Setup } from './case.ts';
import type { TraceSignal } from './trace.ts';
import type { TrueEvent } from './truth.ts';

/**
 * Can a true event be known from this wiring and reporting at all? As the unit's own statement says
 * (shared/inference/observability.ts): each kind needs its signals, and what is over within a polling period can fall between
 * two polls; an off time that fits a power-up delay is judged only where control power reports on change. On change the same holds of what is over within twice the resolution and the debounce.
 */
export function isObservable(truth: TrueEvent, setup: Setup): boolean {
  const wired = new Map(setup.points.map((point) => [point.signal, point]));
  const has = (signal: string): boolean => wired.has(signal);
  const ownCall = has('cooling-call') && wired.get('cooling-call')!['sense'] !== 'upstream';
  if (!NEEDS[truth.kind]?.({ has, ownCall, truth })) return false;
  const powerSeen = has('control-voltage') && setup.voltageEvery === null;
  if (truth.fitsPowerUp && !powerSeen) return false;
  return truth.leansOn.every(({ signal, from, to }) => {
    const wire = WIRE[signal];
    if (wire === undefined || !has(wire)) return true;
    return to - from >= shortest(setup, wire);
  });
}

/** what lasts at least so long is seen */
function shortest(setup: Setup, signal: string): number {
  const every = signal === 'control-voltage' ? setup.voltageEvery : setup.contactsEvery;
  return every === null ? seconds(2 * 0.1 + 0.05) : seconds(every * (1 + (setup.jitter ?? 0)));
}

interface Wired {
  readonly has: (signal: string) => boolean;
  readonly ownCall: boolean;
  readonly truth: TrueEvent;
}

const held = ({ has, ownCall }: Wired): boolean => ownCall && has('compressor-output');
const latched = (wired: Wired): boolean => wired.has('lockout-alarm') || held(wired);
const conductor = ({ has }: Wired): boolean => has('compressor-output') && has('compressor-current');

const NEEDS: Partial<Record<EventKind, (wired: Wired) => boolean>> = {
  'compressor-run': ({ has }) => has('compressor-output'),
  'short-cycle': ({ has }) => has('compressor-output'),
  'soft-lockout': held,
  'hard-lockout': latched,
  'lockout-reset': latched,
  'repeated-reset': (wired) => wired.has('lockout-alarm') && held(wired) && wired.has('high-pressure'),
  'undervoltage-hold': (wired) => held(wired) && wired.has('control-voltage'),
  'stuck-contactor': conductor,
  'failed-start': conductor,
  'alarm-circuit-fault': (wired) =>
    wired.has('lockout-alarm') &&
    (wired.truth.cause === 'silent' ? held(wired) : wired.has('compressor-output')),
  'setting-mismatch': held,
};

const WIRE: Partial<Record<TraceSignal, string>> = {
  volts: 'control-voltage',
  call: 'cooling-call',
  high: 'high-pressure',
  low: 'low-pressure',
  output: 'compressor-output',
  alarm: 'lockout-alarm',
  current: 'compressor-current',
};
