import { seconds } from '../base/instant.ts';
import type { Protection, Setting } from '../telemetry/site.ts';

/**
 * The settings of one protection control with a value picked for each (handbook 2.1): the model runs one control, so
 * `either`, which stands for "not known which", can't be among them. Durations in seconds, voltages in V.
 */
export interface ControlSettings {
  /** off-cycle delay (the trade's "delay on break"): off at least this long after a stop */
  readonly offDelay: number;
  /**
   * `call`: a call that goes while the output is already off starts the delay in full too, and one that is back before
   * that delay is over starts it in full once more (handbook 2.3, fourth row: away 1000–1010, on at 1220)
   */
  readonly offDelayFrom: 'call' | 'stop';
  /** power-up delay = powerUpBase + powerUpShare × offDelay */
  readonly powerUpBase: number;
  readonly powerUpShare: number;
  readonly lowPressureBypass: number;
  readonly lowPressureRetry: 'closed-needed' | 'bypass-again';
  readonly stopsCounted: 'together' | 'by-switch';
  /** null: this control doesn't watch its voltage */
  readonly undervoltageTrip: number | null;
  readonly undervoltageStartGrace: number;
  readonly undervoltageDelayFrom: 'drop' | 'recovery';
  /** a power loss shorter than this doesn't reset the control */
  readonly holdUp: number;
}

/** The reference model: the defaults of handbook 2.1, and of two ways the one that this model takes. */
export const REFERENCE_SETTINGS: ControlSettings = {
  offDelay: 210,
  offDelayFrom: 'call',
  powerUpBase: 120,
  powerUpShare: 0.1,
  lowPressureBypass: 120,
  lowPressureRetry: 'bypass-again',
  stopsCounted: 'together',
  undervoltageTrip: 18,
  undervoltageStartGrace: 0,
  undervoltageDelayFrom: 'drop',
  holdUp: 0,
};

/** Seconds that the output waits after control power returns. */
export const powerUpDelay = (
  settings: Pick<ControlSettings, 'offDelay' | 'powerUpBase' | 'powerUpShare'>,
): number => settings.powerUpBase + settings.powerUpShare * settings.offDelay;

/** The same settings with every timer longer by this share: a real timer is a little off. */
export const withTimerError = (settings: ControlSettings, share: number): ControlSettings => ({
  ...settings,
  offDelay: settings.offDelay * (1 + share),
  powerUpBase: settings.powerUpBase * (1 + share),
  lowPressureBypass: settings.lowPressureBypass * (1 + share),
});

/** Durations as differences of instants, worked out once per control. */
export interface ControlSpans {
  readonly offDelay: number;
  readonly powerUp: number;
  readonly bypass: number;
  readonly grace: number;
  readonly holdUp: number;
}

export const controlSpans = (settings: ControlSettings): ControlSpans => ({
  offDelay: seconds(settings.offDelay),
  powerUp: seconds(powerUpDelay(settings)),
  bypass: seconds(settings.lowPressureBypass),
  grace: seconds(settings.undervoltageStartGrace),
  holdUp: seconds(settings.holdUp),
});

/** A unit's settings as configured, the reference model's way wherever `either` is allowed. */
export const pickSettings = (protection: Protection): ControlSettings => settingVariants(protection)[0]!;

/** Every control that the configured settings allow: one for each combination of what `either` leaves open, at most 16. */
export function settingVariants(protection: Protection): readonly ControlSettings[] {
  const plain = {
    offDelay: protection.offDelay.value,
    powerUpBase: protection.powerUpBase.value,
    powerUpShare: protection.powerUpShare.value,
    lowPressureBypass: protection.lowPressureBypass.value,
    undervoltageTrip: protection.undervoltageTrip.value,
    undervoltageStartGrace: protection.undervoltageStartGrace.value,
    holdUp: protection.holdUp.value,
  };
  const found: ControlSettings[] = [];
  for (const offDelayFrom of ways(protection.offDelayFrom, ['call', 'stop']))
    for (const lowPressureRetry of ways(protection.lowPressureRetry, ['bypass-again', 'closed-needed']))
      for (const stopsCounted of ways(protection.stopsCounted, ['together', 'by-switch']))
        for (const undervoltageDelayFrom of ways(protection.undervoltageDelayFrom, ['drop', 'recovery']))
          found.push({ ...plain, offDelayFrom, lowPressureRetry, stopsCounted, undervoltageDelayFrom });
  return found;
}

const ways = <T extends string>(setting: Setting<T | 'either'>, all: readonly T[]): readonly T[] =>
  setting.value === 'either' ? all : [setting.value as T];
