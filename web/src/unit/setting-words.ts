import type { UnitSetting } from '../../../shared/wire/unit-view.ts';
import { drawnLength } from '../../../shared/wire/durations.ts';

/** The settings of handbook 2.1 in the trade's words. A name that isn't listed is shown as it is. */
const SETTING_NAMES: Readonly<Record<string, string>> = {
  offDelay: 'off-cycle delay (delay on break)',
  offDelayFrom: 'off-cycle delay counts from',
  powerUpBase: 'power-up delay, base (delay on make)',
  powerUpShare: 'power-up delay, share of the off-cycle delay',
  powerUpDelay: 'power-up delay (delay on make)',
  lowPressureBypass: 'low-pressure bypass',
  lowPressureRetry: 'low pressure still open at the retry',
  stopsCounted: 'stops counted toward a hard lockout',
  undervoltageTrip: 'undervoltage trip',
  undervoltageStartGrace: 'undervoltage ignored after a start',
  undervoltageDelayFrom: 'undervoltage delay counts from',
  holdUp: 'rides through a loss of',
};
export const settingName = (name: string): string => SETTING_NAMES[name] ?? name;

export const KNOWN_WORDS: Record<UnitSetting['known'], string> = {
  assumed: 'assumed',
  recorded: 'recorded',
  proven: 'proven',
};

/** What restarts have shown: a bracket, and by how many of them. */
export function seenText([low, high]: readonly [number, number], restarts: number): string {
  const by = restarts === 1 ? 'at one restart' : `at ${restarts} restarts`;
  return low === high ? `seen to be ${low} s ${by}` : `seen between ${low} and ${high} s ${by}`;
}

const CHOICE_WORDS: Readonly<Record<string, string>> = {
  either: 'not known which',
  call: 'the call’s end',
  stop: 'the stop',
  'closed-needed': 'latches at once',
  'bypass-again': 'gets the bypass again',
  together: 'together',
  'by-switch': 'each switch by itself',
  drop: 'the drop',
  recovery: 'the recovery',
};

export function settingText({ value, measure }: UnitSetting): string {
  if (value === null) return 'none';
  if (typeof value === 'string') return CHOICE_WORDS[value] ?? value;
  if (measure === 's') return value >= 60 ? `${drawnLength(value)} (${value} s)` : `${value} s`;
  if (measure === 'share') return `${Math.round(value * 1000) / 10} %`;
  return `${value} ${measure}`.trim();
}
