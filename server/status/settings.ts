import { allowance } from '../../shared/inference/unit/settings-seen.ts';
import type { SettingSeen } from '../../shared/inference/standing.ts';
import type { Protection, Setting } from '../../shared/telemetry/site.ts';
import type { UnitSetting } from '../../shared/wire/unit-view.ts';

/**
 * How each setting is known (handbook 2.1): assumed, recorded, or proven, which is to say that restarts have bracketed it
 * closely and the bracket agrees with its value. A bracket that doesn't agree stands beside the value it speaks against.
 */
export function unitSettings(protection: Protection, seen: readonly SettingSeen[]): UnitSetting[] {
  const rows: UnitSetting[] = Object.entries(protection).flatMap(([name, setting]) =>
    typeof setting === 'object' && setting !== null
      ? [
          {
            name,
            measure: MEASURES[name as keyof Protection] ?? '',
            ...(setting as Setting<number | string | null>),
          },
        ]
      : [],
  );
  const at = rows.findIndex(({ name }) => name === 'powerUpShare') + 1;
  return rows.toSpliced(at, 0, powerUpDelay(protection)).map((row) => {
    const bracket = seen.find(({ setting }) => setting === row.name);
    return bracket ? bracketed(row, bracket, protection) : row;
  });
}

const MEASURES: Partial<Record<keyof Protection, UnitSetting['measure']>> = {
  offDelay: 's',
  powerUpBase: 's',
  powerUpShare: 'share',
  lowPressureBypass: 's',
  undervoltageTrip: 'V',
  undervoltageStartGrace: 's',
  holdUp: 's',
};

/** It follows from three settings, and is what restarts show: recorded where all three are. */
function powerUpDelay({ powerUpBase, powerUpShare, offDelay }: Protection): UnitSetting {
  const parts = [powerUpBase, powerUpShare, offDelay];
  return {
    name: 'powerUpDelay',
    measure: 's',
    value: Math.round((powerUpBase.value + powerUpShare.value * offDelay.value) * 10) / 10,
    known: parts.every(({ known }) => known === 'recorded') ? 'recorded' : 'assumed',
  };
}

function bracketed(row: UnitSetting, { seconds, gaps }: SettingSeen, protection: Protection): UnitSetting {
  const value = row.value as number;
  const slack = allowance(value, protection.tolerance, protection.settingError);
  const [low, high] = seconds;
  const agrees = low <= value + slack && high >= value - slack;
  const bracket = [tenths(Math.floor(low * 10)), tenths(Math.ceil(high * 10))] as const;
  if (!agrees) return { ...row, bracket, gaps, disagrees: true };
  // wider than a hand-set dial may be off, it holds other settings as well
  return { ...row, bracket, gaps, known: high - low <= 2 * slack ? 'proven' : row.known };
}

const tenths = (count: number): number => count / 10;
