import { describe, expect, it } from 'vitest';
import {
  added,
  admittance,
  conductorImpedance,
  loadImpedance,
  loadVoltage,
  magnitude,
  NO_LOAD,
  phasor,
  sourceFor,
  transformerImpedance,
  type Phasor,
} from '../../shared/power/starting-dip.ts';
import {
  fitSource,
  NAMEPLATE_TOLERANCE,
  type FitStart,
  type FitUnit,
} from '../../shared/power/source-fit.ts';
import { lockedRotorOhms, predictTogether } from '../../shared/power/start-prediction.ts';
import { dice } from '../score/dice.ts';

/**
 * Panels drawn by dice: transformer, conductors, standing load, motors whose currents lie beside their nameplates, a meter
 * that rounds, a supply that wanders. What is fitted from their starts must hold the truth within its stated interval in at
 * least 95 of 100 (issue: of 1,000 seeded panels); the figures are printed.
 */
const PANELS = 1000;
const NOMINAL = 240;

interface Made {
  readonly source: Phasor;
  readonly standing: Phasor;
  readonly motors: readonly { readonly id: string; readonly truth: Phasor; readonly unit: FitUnit }[];
  readonly starts: readonly FitStart[];
}

function makePanel(seed: number): Made {
  const { between, chance } = dice(seed);
  const transformer = transformerImpedance({
    volts: NOMINAL,
    kva: between(15, 100),
    percent: between(1.5, 4),
    reactanceToResistance: between(0.8, 4),
  });
  const source = added(transformer, conductorImpedance(between(20, 150), phasor(0.1, 0.05), 2));
  const amps = between(60, 150);
  const motors = Array.from({ length: 2 + Math.floor(between(0, 4)) }, (_, i) => {
    // as a rule the units of a panel are alike
    const nameplate = chance(0.7) ? amps : between(60, 150);
    const really = nameplate * (1 + between(-NAMEPLATE_TOLERANCE, NAMEPLATE_TOLERANCE));
    const truth = loadImpedance({ volts: NOMINAL, amps: really, powerFactor: between(0.6, 0.85), phases: 1 });
    const ohms = lockedRotorOhms(NOMINAL, nameplate, 1);
    return {
      id: `unit-${i + 1}`,
      truth,
      unit: { id: `unit-${i + 1}`, ohms, tolerance: NAMEPLATE_TOLERANCE },
    };
  });
  const beside = between(0, 40);
  const standing =
    beside < 1
      ? NO_LOAD
      : admittance([loadImpedance({ volts: NOMINAL, amps: beside, powerFactor: 0.95, phases: 1 })]);
  // one unit may never have been seen starting
  const seen = motors.slice(0, Math.max(1, motors.length - 1));
  const starts = seen.flatMap(({ id, truth }) =>
    Array.from({ length: 1 + Math.floor(between(0, 8)) }, () => {
      const emf = sourceFor(NOMINAL * between(0.97, 1.03), source, standing);
      const wandered = 1 + between(-0.001, 0.001);
      const before = magnitude(loadVoltage(emf, source, standing));
      const load = added(standing, admittance([truth]));
      const during = magnitude(loadVoltage(emf, source, load)) * wandered;
      return { unit: id, before: rounded(before), during: rounded(during), within: 0.05 };
    }),
  );
  return { source, standing, motors, starts };
}

const rounded = (volts: number): number => Math.round(volts * 10) / 10;

describe('the source of a panel, fitted from the starts seen on it', () => {
  const made = Array.from({ length: PANELS }, (_, i) => makePanel(1000 + i));
  const fits = made.map(({ starts, motors }) =>
    fitSource(
      starts,
      motors.map(({ unit }) => unit),
    )!,
  );

  it('lies within its stated interval on at least 95 of 100 panels', () => {
    const held = fits.filter(({ ohms }, i) => {
      const truth = magnitude(made[i]!.source);
      return ohms![0] <= truth && truth <= ohms![1];
    }).length;
    const widths = fits
      .map(({ ohms }) => (ohms![1] - ohms![0]) / (ohms![1] + ohms![0]))
      .sort((a, b) => a - b);
    console.log(
      `source impedance within its interval on ${held} of ${PANELS} panels; half width ${percent(widths[PANELS / 2]!)} in the middle, ${percent(widths[0.9 * PANELS]!)} at nine in ten`,
    );
    expect(held).toBeGreaterThanOrEqual(0.95 * PANELS);
    // an interval that says anything would hold it
    expect(widths[PANELS / 2]!).toBeLessThan(0.4);
  });

  for (const all of [false, true])
    it(`predicts the voltage of ${all ? 'all of its units' : 'two seen units'} starting together within its interval on at least 95 of 100`, () => {
      let [held, asked] = [0, 0];
      const widths: number[] = [];
      for (const [i, fit] of fits.entries()) {
        const { source, standing, motors } = made[i]!;
        const together = all ? motors : motors.filter(({ id }) => fit.cases[0]!.units.has(id)).slice(0, 2);
        if (together.length < 2) continue;
        const predicted = predictTogether(
          fit,
          together.map(({ unit }) => unit),
          [NOMINAL, NOMINAL],
        )!;
        const emf = sourceFor(NOMINAL, source, standing);
        const truth = magnitude(
          loadVoltage(emf, source, added(standing, admittance(together.map((motor) => motor.truth)))),
        );
        asked++;
        widths.push((predicted.volts[1] - predicted.volts[0]) / 2);
        if (predicted.volts[0] <= truth && truth <= predicted.volts[1]) held++;
      }
      widths.sort((a, b) => a - b);
      console.log(
        `${all ? 'all' : 'two'} together within the interval on ${held} of ${asked} panels; half width ${widths[asked >> 1]!.toFixed(2)} V in the middle, ${widths[Math.floor(0.9 * asked)]!.toFixed(2)} V at nine in ten`,
      );
      expect(asked).toBeGreaterThan(500);
      expect(held).toBeGreaterThanOrEqual(0.95 * asked);
    });
});

const percent = (share: number): string => `${(100 * share).toFixed(1)} %`;
