import type { Bounds } from '../base/span.ts';
import type { Unit } from '../telemetry/site.ts';

/**
 * At which line voltage a unit drops (handbook 5.2). Its control voltage follows the line by a ratio that telemetry shows:
 * the median of R–C over line. With an undervoltage trip it drops at trip / ratio; without one its contactor lets go
 * somewhere between 75 % and 20 % of the coil's 24 V, sooner or later by point on wave [IEC 60947-4-1].
 */
export interface Margin {
  readonly ratio: number;
  readonly by: 'trip' | 'contactor';
  /** line volts: below the first it drops for certain, above the second it doesn't; in between can't be told */
  readonly volts: Bounds;
  /** the same per unit of the declared voltage */
  readonly perUnit: Bounds;
  /** is the trip written down or assumed */
  readonly known: 'assumed' | 'recorded';
}

const COIL_VOLTS = 24;
const MUST_DROP = 0.2;
const MAY_DROP = 0.75;
/** Fewer pairs of readings than this tell no ratio [our choice]. */
const LEAST_PAIRS = 5;
/** below this share of the declared voltage a pair is part of an event, not of ordinary running */
const ORDINARY = 0.9;

/** Line and control voltage of one moment. */
export interface VoltagePair {
  readonly line: number;
  readonly control: number;
}

/** The median of R–C over line in ordinary running; null: too few readings of both. */
export function controlRatio(pairs: readonly VoltagePair[], nominalVoltage: number): number | null {
  const ratios = pairs
    .filter(({ line, control }) => line >= ORDINARY * nominalVoltage && control > 0)
    .map(({ line, control }) => control / line)
    .sort((a, b) => a - b);
  if (ratios.length < LEAST_PAIRS) return null;
  const middle = Math.floor(ratios.length / 2);
  return ratios.length % 2 === 1 ? ratios[middle]! : (ratios[middle - 1]! + ratios[middle]!) / 2;
}

export function marginOf(unit: Pick<Unit, 'protection'>, ratio: number, nominalVoltage: number): Margin {
  const { value: trip, known } = unit.protection.undervoltageTrip;
  const volts: Bounds =
    trip === null
      ? [(COIL_VOLTS * MUST_DROP) / ratio, (COIL_VOLTS * MAY_DROP) / ratio]
      : [trip / ratio, trip / ratio];
  return {
    ratio,
    by: trip === null ? 'contactor' : 'trip',
    volts,
    perUnit: [volts[0] / nominalVoltage, volts[1] / nominalVoltage],
    known,
  };
}

/** What the margin foresees for a dip to [least, most] per unit. */
export function foreseen(
  { perUnit }: Margin,
  [least, most]: Bounds,
): 'drops' | 'rides-through' | 'indeterminate' {
  if (most < perUnit[0]) return 'drops';
  return least >= perUnit[1] ? 'rides-through' : 'indeterminate';
}
