import type { Protection } from '../../telemetry/site.ts';

/** A setting that nobody has recorded, and what rests on it. */
export interface AssumedSetting {
  readonly setting: SettingName;
  readonly says: string;
}
export type SettingName = Exclude<keyof Protection, 'tolerance' | 'settingError' | 'startsPerHourLimit'>;

/** The trade's words for the settings of handbook 2.1, and what is judged by each. */
export const SETTINGS: Readonly<Record<SettingName, { readonly name: string; readonly judges: string }>> = {
  offDelay: {
    name: 'off-cycle delay',
    judges: 'short cycles, a delay that isn’t kept, and when a retry is due',
  },
  offDelayFrom: { name: 'start of the off-cycle delay', judges: 'a start soon after a call break' },
  powerUpBase: { name: 'base of the power-up delay', judges: 'starts after a power return' },
  powerUpShare: { name: 'share of the power-up delay', judges: 'starts after a power return' },
  lowPressureBypass: { name: 'low-pressure bypass', judges: 'low pressure where its switch isn’t wired' },
  lowPressureRetry: { name: 'low-pressure retry', judges: 'what the control does at a retry' },
  stopsCounted: { name: 'way of counting stops', judges: 'whether two different stops lock it out' },
  undervoltageTrip: { name: 'undervoltage trip', judges: 'drops for low voltage' },
  undervoltageStartGrace: { name: 'undervoltage start grace', judges: 'drops right after a start' },
  undervoltageDelayFrom: { name: 'start of the delay after a low voltage', judges: 'the restart after it' },
  holdUp: { name: 'hold-up', judges: 'power losses of a tenth of a second' },
};

export function assumedIn(protection: Protection): AssumedSetting[] {
  return (Object.keys(SETTINGS) as SettingName[])
    .filter((setting) => protection[setting].known === 'assumed')
    .map((setting) => {
      const { name, judges } = SETTINGS[setting];
      return { setting, says: `The ${name} is assumed. What is judged by it: ${judges}.` };
    });
}
