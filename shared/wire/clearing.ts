import type { AlarmRuleId } from '../alarms/rules.ts';
import { spokenLength } from './durations.ts';

/** How an alarm's condition clears (handbook 8): total, so that a new rule doesn't compile until that is said of it. */
export interface ClearingFacts {
  readonly rule: AlarmRuleId;
  readonly active: boolean;
  readonly latched: boolean;
  /** of the last 7 days */
  readonly resets: number;
  /** s; null: the alarm is of no unit */
  readonly powerUpDelay: number | null;
}

const BY_ITSELF = 'By itself, once it is no longer so.';
const CLOSED = 'It is kept here until somebody closes it.';
const ROOM = 'By itself, once enough units of the room run again.';

const WAYS: Record<AlarmRuleId, readonly string[]> = {
  'cooling-lost': [ROOM],
  'cooling-reduced': [ROOM, CLOSED],
  'high-temperature': ['By itself, once the room is below its limit.'],
  'high-temperature-forecast': ['By itself, once the room isn’t expected to reach its limit.'],
  'hard-lockout': [
    'Only when the cooling call or control power is broken. Find the cause first.',
    'A satisfied thermostat breaks the call too: the fault isn’t removed by that.',
  ],
  'hard-lockout-again': ['With the lockout that it counts. Find why it came back.', CLOSED],
  'repair-failed': [
    'It retries by itself. What was mended wasn’t the cause, or not all of it: look again before it locks itself out.',
    CLOSED,
  ],
  'power-loss': ['By itself, when the supply is back; then each unit waits its power-up delay and starts.'],
  'unit-power-loss': [
    'By itself, when its control power is back; then it waits its power-up delay and starts without warning.',
  ],
  'stuck-contactor': ['Only the disconnect stops the compressor.', CLOSED],
  'failed-start': [BY_ITSELF, CLOSED],
  'undervoltage-in-a-row': ['Once a run has lasted. It goes on trying by itself until then.', CLOSED],
  'weak-cooling': [BY_ITSELF],
  'gateway-silent': [
    'By itself, once the gateway is heard again. Until then nothing is known of what is behind it.',
  ],
};

export function clearingLines({ rule, active, latched, resets, powerUpDelay }: ClearingFacts): string[] {
  const isLockout = rule === 'hard-lockout' || rule === 'hard-lockout-again';
  if (!active && !latched) return ['It is over.'];
  if (!active)
    return [
      isLockout
        ? 'It was reset by the end of the call or of the power; the fault was not removed.'
        : 'It is over.',
      CLOSED,
      ...(isLockout ? [resetsText(resets)] : []),
    ];
  const wait =
    rule === 'unit-power-loss' && powerUpDelay !== null
      ? [`That wait is ${spokenLength(powerUpDelay)} (${Math.round(powerUpDelay)} s).`]
      : [];
  return [...WAYS[rule], ...wait, ...(isLockout ? [`${resetsText(resets)} This page can’t reset it.`] : [])];
}

const resetsText = (count: number): string =>
  `Resets within 7 days: ${count}.${count > 1 ? ' A lockout is evidence and isn’t to be reset again and again.' : ''}`;
