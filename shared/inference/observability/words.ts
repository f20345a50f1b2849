import type { EventCause, EventKind } from '../event.ts';
import type { Known } from './knowable.ts';

/** Kinds of events as they stand in a sentence, "… can be told": total, so that a new kind needs its words. */
const KINDS: Readonly<Record<EventKind, string>> = {
  'compressor-run': 'why it stopped',
  'short-cycle': 'a start that came too early',
  'soft-lockout': 'a protective stop',
  'hard-lockout': 'a hard lockout',
  'lockout-reset': 'what ended a lockout',
  'undervoltage-hold': 'a drop for low voltage',
  'power-loss': 'a power loss',
  'simultaneous-start': 'starts together with another unit',
  'restart-sequence': 'the restart after an outage',
  'voltage-sag': 'a voltage sag',
  'voltage-swell': 'a voltage swell',
  interruption: 'an interruption of the supply',
  'generator-supply': 'that a generator feeds it',
  'stuck-contactor': 'a stuck contactor',
  'failed-start': 'a compressor that doesn’t start',
  'alarm-circuit-fault': 'a fault of the alarm circuit',
  'setting-mismatch': 'a delay that isn’t as recorded',
  'control-disagrees': 'a control that acts against its settings',
  'control-voltage-out-of-range': 'control voltage out of range',
  'repeated-reset': 'a lockout that is reset again and again',
  'weak-cooling': 'weak cooling',
  'loss-of-cooling': 'a loss of cooling',
  'high-temperature': 'a room that is too warm',
  'telemetry-gap': 'silence',
};

/** Where the cause makes another thing of it. */
const WITH_CAUSE: Partial<Record<`${EventKind}: ${EventCause}`, string>> = {
  'compressor-run: call-ended': 'that a run ended with its call',
  'compressor-run: power-lost': 'that a run ended with the power',
  'compressor-run: high-pressure': 'a stop for high pressure',
  'compressor-run: low-pressure': 'a stop for low pressure',
  'compressor-run: undervoltage': 'a stop for low voltage',
  'short-cycle: too-many-starts': 'too many starts in an hour',
  'soft-lockout: high-pressure': 'a high-pressure stop',
  'soft-lockout: low-pressure': 'a low-pressure stop',
  'hard-lockout: high-pressure': 'a hard lockout for high pressure',
  'hard-lockout: low-pressure': 'a hard lockout for low pressure',
  'alarm-circuit-fault: silent': 'an alarm contact that stays silent',
  'alarm-circuit-fault: unexplained': 'an alarm that nothing explains',
  'power-loss: supply': 'a power loss of the supply',
  'power-loss: unit-only': 'a power loss of this unit alone',
  'control-voltage-out-of-range: wrong-tap': 'a wrong transformer tap',
  'telemetry-gap: point-silent': 'a silent point',
  'telemetry-gap: gateway-silent': 'a silent gateway',
};

export const nounOf = (kind: EventKind, cause: EventCause | null): string =>
  WITH_CAUSE[`${kind}: ${cause ?? 'unknown'}`] ?? KINDS[kind];

/** After "can be told". */
export const HOW_SURELY: Readonly<Record<Known, string>> = {
  certain: 'for certain',
  probable: 'as probable',
  possible: 'as possible only',
  'not-at-all': 'not at all',
};

/** What weighs more when changes are compared: what stops the cooling or wrecks the compressor first [our choice]. */
const WEIGHTS: Partial<Record<EventKind, number>> = {
  'hard-lockout': 5,
  'loss-of-cooling': 5,
  'stuck-contactor': 4,
  'power-loss': 3,
  'soft-lockout': 3,
  'high-temperature': 3,
  'failed-start': 2,
  'simultaneous-start': 2,
  'short-cycle': 2,
  'restart-sequence': 2,
  'compressor-run': 1,
};
export const weightOf = (kind: EventKind): number => WEIGHTS[kind] ?? 1;
