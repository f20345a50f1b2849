import type { Bounds } from '../../shared/base/span.ts';
import { ampsByCodeLetter, isCodeLetter } from '../../shared/power/code-letters.ts';
import { NAMEPLATE_TOLERANCE, type FitUnit } from '../../shared/power/source-fit.ts';
import { lockedRotorOhms } from '../../shared/power/start-prediction.ts';
import type { Panel, Unit } from '../../shared/telemetry/site.ts';

/** Locked-rotor amps of a unit: from its nameplate, else by code letter and horsepower; null: neither is recorded. */
export function ampsOf({ nameplate }: Unit, { nominalVoltage, phases }: Panel): Bounds | null {
  const { lockedRotorAmps, codeLetter, horsepower } = nameplate;
  if (lockedRotorAmps !== null)
    return [lockedRotorAmps * (1 - NAMEPLATE_TOLERANCE), lockedRotorAmps * (1 + NAMEPLATE_TOLERANCE)];
  if (!codeLetter || !horsepower || !isCodeLetter(codeLetter)) return null;
  const [low, high] = ampsByCodeLetter(codeLetter, horsepower, { volts: nominalVoltage, phases });
  // A has no lower end and V no upper one: neither says how much it takes
  return low > 0 && Number.isFinite(high) ? [low, high] : null;
}

export function motorOf(unit: Unit, panel: Panel): FitUnit {
  const amps = ampsOf(unit, panel);
  if (amps === null) return { id: unit.id, ohms: null, tolerance: 0 };
  const middle = (amps[0] + amps[1]) / 2;
  return {
    id: unit.id,
    ohms: lockedRotorOhms(panel.nominalVoltage, middle, panel.phases),
    tolerance: (amps[1] - amps[0]) / 2 / middle,
  };
}
