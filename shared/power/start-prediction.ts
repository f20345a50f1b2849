import type { Bounds } from '../base/span.ts';
import {
  FIT_DEVIATIONS,
  hull,
  shareLeft,
  type FitCase,
  type FitRanges,
  type FitUnit,
  type SourceFit,
} from './source-fit.ts';
import { generatorImpedance, loadImpedance, magnitude, voltageAtStart } from './starting-dip.ts';

/**
 * How far the voltage falls when units start together (handbook 5.5): their currents add. From a fit, in each of its cases
 * of angles; what is given holds in all of them. A unit that was seen starting counts as it was seen; one that wasn't, by
 * its nameplate and the fitted source.
 */
export interface StartPrediction {
  readonly units: readonly string[];
  /** V while they start, and the share of the voltage before that is gone */
  readonly volts: Bounds;
  readonly dip: Bounds;
}

/** null: of one of them there is neither a seen start nor a nameplate. `before` in V. */
export function predictTogether(
  fit: SourceFit,
  together: readonly FitUnit[],
  before: Bounds = [fit.before, fit.before],
): StartPrediction | null {
  const found = fit.cases.map((one) => leftInCase(one, together));
  if (found.some((bounds) => bounds === null)) return null;
  return predictionOf(together, hull(found as Bounds[]), before);
}

function leftInCase(one: FitCase, together: readonly FitUnit[]): Bounds | null {
  const pulls = together.map((unit) => pullIn(one, unit));
  if (pulls.some((pull) => pull === null)) return null;
  const sum = pulls.reduce((total, pull) => total + pull!.m, 0);
  // each unit's error its own, but those from one source the same way
  const error = pulls.reduce((total, pull) => total + pull!.error, 0);
  return [shareLeft(sum + error, one.angle), shareLeft(Math.max(0, sum - error), one.angle)];
}

function pullIn(one: FitCase, { id, ohms, tolerance }: FitUnit): { m: number; error: number } | null {
  const seen = one.units.get(id);
  if (seen) return { m: Math.max(0, seen.m), error: FIT_DEVIATIONS * seen.error };
  if (ohms === null || one.ohms === null) return null;
  const [low, high] = [one.ohms[0] / (ohms * (1 + tolerance)), one.ohms[1] / (ohms * (1 - tolerance))];
  return { m: (low + high) / 2, error: (high - low) / 2 };
}

const predictionOf = (
  together: readonly FitUnit[],
  [low, high]: Bounds,
  before: Bounds,
): StartPrediction => ({
  units: together.map(({ id }) => id),
  volts: [low * before[0], high * before[1]],
  dip: [1 - high, 1 - low],
});

export interface GeneratorSource {
  readonly ratedKva: number;
  /** X′d, per unit of its rating */
  readonly transientReactance: Bounds;
}

/** On a generator: its transient reactance and the nameplates tell; nothing is fitted. null: a nameplate is missing. */
export function predictOnGenerator(
  { ratedKva, transientReactance }: GeneratorSource,
  together: readonly FitUnit[],
  nominal: number,
  { powerFactor }: Pick<FitRanges, 'powerFactor'>,
  phases: 1 | 3,
): StartPrediction | null {
  if (together.some(({ ohms }) => ohms === null)) return null;
  const k = phases === 3 ? Math.sqrt(3) : 1;
  const amps = (off: -1 | 1): number =>
    together.reduce((sum, { ohms, tolerance }) => sum + nominal / (k * ohms! * (1 - off * tolerance)), 0);
  const shares = transientReactance.flatMap((reactance) =>
    powerFactor.flatMap((factor) =>
      ([-1, 1] as const).map((off) => {
        const motor = loadImpedance({ volts: nominal, amps: amps(off), powerFactor: factor, phases });
        return voltageAtStart(1, generatorImpedance(nominal, ratedKva, reactance), motor, 1);
      }),
    ),
  );
  return predictionOf(together, [Math.min(...shares), Math.max(...shares)], [nominal, nominal]);
}

/** Ohms per phase of a locked rotor that takes `amps` at `volts`. */
export const lockedRotorOhms = (volts: number, amps: number, phases: 1 | 3): number =>
  magnitude(loadImpedance({ volts, amps, powerFactor: 0.7, phases }));

/** Does a unit's control hold while the line is at `volts`? Its own control voltage is `ratio` of the line (handbook 5.2). */
export type DropOut = 'holds' | 'drops' | 'unsure';

export function dropOutAt(volts: Bounds, dropLine: Bounds): DropOut {
  if (volts[0] >= dropLine[1]) return 'holds';
  return volts[1] < dropLine[0] ? 'drops' : 'unsure';
}

/** Line volts below which the control lets its coil go: trip over ratio. A wider ratio widens it. */
export const dropLineOf = (tripVolts: number, ratio: Bounds): Bounds => [
  tripVolts / ratio[1],
  tripVolts / ratio[0],
];
