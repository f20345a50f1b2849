import { describe, expect, it } from 'vitest';
import { classOf, classWithin } from '../../shared/power/classes.ts';
import { en50160Cell, isCoveredBySemiF47, isInsideItic, severityOf } from '../../shared/power/curves.ts';
import { fleetReliability, reliability, sagEnergy, sarfi } from '../../shared/power/indices.ts';
import {
  characteristicVoltage,
  isSinglePhasing,
  rangeVolts,
  unbalancePercent,
  voltageRange,
} from '../../shared/power/levels.ts';
import { steadyLevel } from '../../shared/power/steady-level.ts';
import { levelSentences } from '../../shared/wire/voltage-level-sentences.ts';
import { sagInInterval, sagInReading, slowReading } from '../../shared/power/slow-meter.ts';

describe('IEEE 1159 classes [std; the edge rule is ours, handbook 5.1]', () => {
  it.each([
    [0.7, 0.5, 'instantaneous sag'],
    [0.7, 0.501, 'momentary sag'],
    [0.5, 3, 'momentary sag'],
    [0.5, 3.001, 'temporary sag'],
    [0.85, 60, 'temporary sag'],
    [0.85, 60.1, 'undervoltage'],
    [0.05, 0.1, 'momentary interruption'],
    [0, 3.001, 'temporary interruption'],
    [0, 61, 'sustained interruption'],
    [1.2, 0.1, 'instantaneous swell'],
    [1.2, 61, 'overvoltage'],
    [0.95, 5, null],
    [0.5, 0.008, null],
  ] as const)('%d pu for %d s at 60 Hz: %s', (residual, seconds, expected) => {
    expect(classOf(residual, seconds, 60)).toBe(expected);
  });

  it('30 cycles of 50 Hz are 0.6 s', () => {
    expect(classOf(0.7, 0.6, 50)).toBe('instantaneous sag');
    expect(classOf(0.7, 0.601, 50)).toBe('momentary sag');
  });

  it('bounds have a class only where all that they hold has it', () => {
    expect(classWithin([0.2, 0.6], [0.6, 2.9], 60)).toBe('momentary sag');
    expect(classWithin([0, 0.6], [0.6, 2.9], 60)).toBeNull();
    expect(classWithin([0.2, 0.6], [0.4, 2.9], 60)).toBeNull();
  });
});

describe('yardsticks', () => {
  it.each([
    [0, 0.02, true],
    [0, 0.021, false],
    [0.7, 0.5, true],
    [0.7, 0.501, false],
    [0.799, 10, false],
    [1.2, 0.5, true],
    [1.2, 0.501, false],
  ])('ITIC: (%d pu, %d s) inside: %s [std]', (residual, seconds, inside) => {
    expect(isInsideItic(residual, seconds)).toBe(inside);
  });

  it.each([
    [0.5, 0.2, true],
    [0.499, 0.2, false],
    [0.75, 0.7, false],
    [0.8, 1, true],
  ])('SEMI F47: (%d pu, %d s) covered: %s [std]', (residual, seconds, covered) => {
    expect(isCoveredBySemiF47(residual, seconds)).toBe(covered);
  });

  it.each([
    [0.85, 0.15, 'A1'],
    [0.799, 0.201, 'B2'],
    [0.399, 5, 'D4'],
    [0.049, 60, 'X5'],
    [0.85, 60.1, null],
    [0.95, 1, null],
    [1.15, 0.4, 'T1'],
    [1.25, 6, 'S3'],
  ] as const)('EN 50160: %d pu for %d s: %s [std; swells from memory]', (residual, seconds, cell) => {
    expect(en50160Cell(residual, seconds)).toBe(cell);
  });

  it('severity 1 lies on the curve, beyond it is worse [IEEE 1564]', () => {
    expect(severityOf(0.5, 0.2)).toBeCloseTo(1, 12);
    expect(severityOf(0.4, 0.3)).toBeCloseTo(2, 12);
  });
});

describe('indices', () => {
  it('SARFI-70: 200 customers, three events that reached 50, 20 and 100: 0.85 [IEEE 1564]', () => {
    const sags = [
      { residual: 0.6, reached: 50 },
      { residual: 0.2, reached: 20 },
      { residual: 0.69, reached: 100 },
      { residual: 0.7, reached: 30 },
    ];
    expect(sarfi(0.7, sags, 200)).toBeCloseTo(0.85, 12);
  });

  it('sag energy (1 − V²) · T, summed over the phases [IEEE 1564; computed]', () => {
    expect(sagEnergy([{ residual: 0.5, seconds: 0.2 }])).toBeCloseTo(0.15, 12);
    const phases = [
      { residual: 0.5, seconds: 0.2 },
      { residual: 0, seconds: 0.1 },
    ];
    expect(sagEnergy(phases)).toBeCloseTo(0.25, 12);
  });

  it('IEEE 1366: SAIFI 1.25, SAIDI 60.0, CAIDI 48.0, MAIFI 0.8 [std form; computed]', () => {
    const interruptions = [
      [200, 90],
      [50, 240],
      [400, 2],
      [400, 3],
      [1000, 30],
    ].map(([reached, minutes]) => ({ reached: reached!, minutes: minutes! }));
    const found = reliability(interruptions, 1000);
    expect(found.saifi).toBeCloseTo(1.25, 12);
    expect(found.saidi).toBeCloseTo(60, 12);
    expect(found.caidi).toBeCloseTo(48, 12);
    expect(found.maifi).toBeCloseTo(0.8, 12);
    expect(reliability([{ reached: 3, minutes: 5 }], 3)).toMatchObject({ saifi: 0, caidi: null, maifi: 1 });
  });

  it('each site by itself, and the fleet over everyone served', () => {
    const { bySite, fleet } = fleetReliability([
      { site: 'school', served: 8, interruptions: [{ reached: 8, minutes: 30 }] },
      { site: 'shelter', served: 2, interruptions: [] },
    ]);
    expect(bySite['school']).toEqual({ saifi: 1, saidi: 30, caidi: 30, maifi: 0 });
    expect(bySite['shelter']).toEqual({ saifi: 0, saidi: 0, caidi: null, maifi: 0 });
    expect(fleet).toEqual({ saifi: 0.8, saidi: 24, caidi: 30, maifi: 0 });
  });
});

describe('levels', () => {
  it('C84.1: 240 V: A 228–252, B 220–254; 480 V: A 456–504 [std]', () => {
    expect(rangeVolts('A', 240).map(rounded)).toEqual([228, 252]);
    expect(rangeVolts('B', 240).map(rounded)).toEqual([220, 254]);
    expect(rangeVolts('A', 480).map(rounded)).toEqual([456, 504]);
    expect([228, 252, 227.9, 220, 254, 219.9, 254.1].map((volts) => voltageRange(volts, 240))).toEqual([
      'A',
      'A',
      'B',
      'B',
      'B',
      'below B',
      'above B',
    ]);
  });

  it('unbalance: 460/467/450 → 1.9608 %; 462/463/455 → 1.0870 % [NEMA MG 1 example]', () => {
    expect(unbalancePercent([460, 467, 450])).toBeCloseTo(1.9608, 4);
    expect(unbalancePercent([462, 463, 455])).toBeCloseTo(1.087, 4);
  });

  it('one leg lost is single-phasing, not unbalance', () => {
    expect(isSinglePhasing([240, 236, 244])).toBe(false);
    // leg A open: its terminal lies at B, or between B and C
    expect(isSinglePhasing([0, 240, 240])).toBe(true);
    expect(isSinglePhasing([120, 240, 120])).toBe(true);
    expect(isSinglePhasing([200, 240, 190])).toBe(false);
    expect(isSinglePhasing([0, 0, 0])).toBe(false);
  });

  it('characteristic voltage: a fault of two legs and one to ground, seen line to line [computed]', () => {
    // all three alike: the same everywhere
    expect(characteristicVoltage([0.6, 0.6, 0.6])!.lowest).toBeCloseTo(0.6, 12);
    // legs B and C meet: their line-to-line voltage is gone
    const meet = characteristicVoltage([Math.sqrt(3) / 2, 0, Math.sqrt(3) / 2])!;
    expect(meet.lowest).toBeCloseTo(0, 9);
    expect(meet.highest).toBeCloseTo(1, 9);
    // leg A to ground with A at half: neutral without zero sequence sees 2/3 of it
    const ground = characteristicVoltage([Math.sqrt(1.75 / 3), 1, Math.sqrt(1.75 / 3)])!;
    expect(ground.lowest).toBeCloseTo(2 / 3, 9);
    expect(characteristicVoltage([1, 0.1, 0.2])).toBeNull();
  });
});

const rounded = (volts: number): number => Math.round(volts * 1e6) / 1e6;

describe('slow meters', () => {
  it('an outage of 0.1 s in a 1 s RMS reads 0.949 [computed]', () => {
    expect(slowReading(0, 0.1, 1)).toBeCloseTo(0.949, 3);
  });

  it('a reading bounds residual and duration, and what was read lies within', () => {
    for (const [residual, seconds] of [
      [0, 0.4],
      [0.5, 0.6],
      [0.7, 1],
    ] as const) {
      const bounds = sagInReading(slowReading(residual, seconds, 1), 1);
      expect(bounds.residual[1]).toBeGreaterThanOrEqual(residual - 1e-12);
      expect(bounds.seconds[0]).toBeLessThanOrEqual(seconds + 1e-12);
      expect(bounds.seconds[1]).toBeGreaterThanOrEqual(seconds);
    }
  });

  it('an interval’s minimum is the residual; its mean bounds the duration from above', () => {
    // 60 s, of them 6 s at 0.7
    const bounds = sagInInterval({ least: 0.7, most: 1, mean: 0.97, seconds: 60 }, 0.92);
    expect(bounds.residual).toEqual([0.7, 0.7]);
    expect(bounds.seconds[0]).toBe(0);
    expect(bounds.seconds[1]).toBeCloseTo(22.5, 9);
    expect(sagInInterval({ least: 0.7, most: 1, mean: null, seconds: 60 }, 0.92).seconds).toEqual([0, 60]);
  });
});

describe('the steady voltage of a panel (ANSI C84.1 and NEMA MG 1, handbook 5.1)', () => {
  const flat = (...means: number[]) => ({
    volts: means.map((mean) => ({ mean, least: mean - 1, most: mean + 1 })),
  });

  it('counts ten minutes by their worst channel; those with a sag in them aren’t steady', () => {
    const sagging = { volts: [{ mean: 238, least: 170, most: 241 }] };
    const level = steadyLevel([flat(240), flat(232), flat(226), flat(219), sagging], 240)!;
    expect(level).toMatchObject({ volts: [219, 240], steady: 4, unbalance: null, singlePhasing: 0 });
    expect(level.shares).toEqual({ A: 0.5, B: 0.25, 'below B': 0.25, 'above B': 0 });
    expect(levelSentences(level, 'Panel A', 240)).toEqual([
      'Panel A stood at 219–240 V: 50 % of the time in range A of ANSI C84.1 (228–252 V), 25 % in range B, which is for short times only; 25 % below 220 V, outside of both.',
    ]);
    expect(steadyLevel([sagging], 240)).toBeNull();
  });

  it('three legs: unbalance as a rule and at most; a lost leg is single-phasing and no unbalance', () => {
    const level = steadyLevel(
      [flat(460, 467, 450), flat(460, 460, 460), flat(462, 463, 455), flat(460, 230, 230)],
      460,
    )!;
    expect(level.unbalance!.usual).toBeCloseTo(1.087, 3);
    expect(level.unbalance!.most).toBeCloseTo(1.9608, 4);
    expect(level.singlePhasing).toBe(1);
    expect(levelSentences(level, 'Panel A', 460).slice(1)).toEqual([
      'Its three voltages were unbalanced by 1.1 % as a rule, 2.0 % at most.',
      'For 10:00 min one leg was lost (single-phasing): three-phase motors overheat on two legs.',
    ]);
  });
});
