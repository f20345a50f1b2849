import type { Bounds } from '../base/span.ts';
import { isSinglePhasing, unbalancePercent, voltageRange, type VoltageRange } from './levels.ts';

/**
 * The steady voltage of a panel over a stretch of time, beside ANSI C84.1's ranges, and how even its three line-to-line
 * voltages are (handbook 5.1). Made of ten-minute means, the averaging of IEC 61000-4-30 for slow changes. Ten minutes in
 * which the voltage fell or rose far from their own mean hold a sag, a swell or an outage: those are events of their own, and
 * are left out here.
 */
export interface TenMinutes {
  /** by signal: A–B, B–C, C–A where there are three */
  readonly volts: readonly { readonly least: number; readonly most: number; readonly mean: number }[];
}

export interface SteadyLevel {
  /** the lowest and the highest mean of any channel, V */
  readonly volts: Bounds;
  /** shares of the ten minutes that were steady, by their worst channel; they add up to 1 */
  readonly shares: Readonly<Record<VoltageRange, number>>;
  /** how many ten minutes that is */
  readonly steady: number;
  /** percent, of three channels: the median and the greatest; null: there aren't three */
  readonly unbalance: { readonly usual: number; readonly most: number } | null;
  /** ten minutes with one leg lost */
  readonly singlePhasing: number;
}

/** A tenth, as a sag or a swell has it, of the ten minutes' own mean [our choice]. */
const UNSTEADY = 0.1;
const WORST_FIRST: readonly VoltageRange[] = ['below B', 'above B', 'B', 'A'];

/** null: no ten minutes were steady. */
export function steadyLevel(all: readonly TenMinutes[], nominalVolts: number): SteadyLevel | null {
  const steady = all.filter(({ volts }) => volts.length > 0 && volts.every(isSteady));
  if (steady.length === 0) return null;
  const shares: Record<VoltageRange, number> = { A: 0, B: 0, 'below B': 0, 'above B': 0 };
  for (const { volts } of steady) {
    const ranges = volts.map(({ mean }) => voltageRange(mean, nominalVolts));
    shares[WORST_FIRST.find((range) => ranges.includes(range))!] += 1 / steady.length;
  }
  const means = steady.flatMap(({ volts }) => volts.map(({ mean }) => mean));
  const triples = steady.flatMap(({ volts: [ab, bc, ca] }) =>
    ab && bc && ca ? [[ab.mean, bc.mean, ca.mean] as const] : [],
  );
  const lost = triples.filter(isSinglePhasing);
  // one leg lost is single-phasing, not unbalance (handbook 5.1)
  const uneven = triples
    .filter((triple) => !isSinglePhasing(triple))
    .map(unbalancePercent)
    .sort((a, b) => a - b);
  return {
    volts: [Math.min(...means), Math.max(...means)],
    shares,
    steady: steady.length,
    unbalance:
      uneven.length === 0 ? null : { usual: uneven[uneven.length >> 1]!, most: uneven[uneven.length - 1]! },
    singlePhasing: lost.length,
  };
}

const isSteady = ({ least, most, mean }: TenMinutes['volts'][number]): boolean =>
  mean > 0 && least >= (1 - UNSTEADY) * mean && most <= (1 + UNSTEADY) * mean;
