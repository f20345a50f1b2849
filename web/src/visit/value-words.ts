import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { WiredPoint } from '../../../shared/wire/unit-view.ts';

/** What a point reads, in a word or a figure that can be read from an arm's length. */
const CONTACTS: Partial<Record<SignalName, readonly [off: string, on: string]>> = {
  'cooling-call': ['no call', 'call'],
  'compressor-output': ['off', 'on'],
  'high-pressure': ['closed', 'tripped'],
  'low-pressure': ['closed', 'tripped'],
  'lockout-alarm': ['off', 'alarm'],
  'fan-call': ['no call', 'call'],
  'reversing-valve': ['off', 'on'],
  'utility-failed': ['well', 'failed'],
  'generator-running': ['off', 'running'],
  'high-temperature': ['well', 'too hot'],
  'low-temperature': ['well', 'too cold'],
  'door-open': ['shut', 'open'],
  smoke: ['none', 'smoke'],
};

export function valueText(
  { signal, kind, measure }: Pick<WiredPoint, 'signal' | 'kind' | 'measure'>,
  value: number | null,
): string {
  if (value === null) return 'not known';
  if (kind === 'contact') return (CONTACTS[signal] ?? ['no', 'yes'])[value >= 0.5 ? 1 : 0];
  return `${value.toFixed(1)} ${measure}`.trim();
}

/** Abnormal for what it is: a switch that has tripped, an alarm, control power gone. */
const BAD_ON: ReadonlySet<SignalName> = new Set<SignalName>([
  'high-pressure',
  'low-pressure',
  'lockout-alarm',
  'utility-failed',
  'high-temperature',
  'low-temperature',
  'smoke',
]);

/** Handbook 4 rule 10: below 5 V there is no control power. */
const NO_POWER_VOLTS = 5;

export const isBad = (signal: SignalName, value: number | null): boolean =>
  value !== null &&
  ((BAD_ON.has(signal) && value >= 0.5) || (signal === 'control-voltage' && value < NO_POWER_VOLTS));
