import type { UnitSetting } from '../../../shared/wire/unit-view.ts';
import type { WaitLengths } from '../chart/marks.ts';

/** The lengths of a unit's waits, from its settings; the power-up delay is base + share × off-cycle delay (handbook 2.1). */
export function waitLengths(settings: readonly UnitSetting[]): WaitLengths {
  const value = (name: string): number | null => {
    const setting = settings.find((entry) => entry.name === name)?.value;
    return typeof setting === 'number' ? setting : null;
  };
  const [off, base, share] = [value('offDelay'), value('powerUpBase'), value('powerUpShare')];
  return {
    offDelay: off,
    powerUpDelay: base !== null && share !== null && off !== null ? base + share * off : null,
    assumed: settings.find((entry) => entry.name === 'offDelay')?.known === 'assumed',
  };
}
