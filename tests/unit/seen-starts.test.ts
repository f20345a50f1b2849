import { describe, expect, it } from 'vitest';
import { SECOND } from '../../shared/base/instant.ts';
import { ampsByCodeLetter, CODE_LETTERS } from '../../shared/power/code-letters.ts';
import { seenStart, type StartWindow } from '../../shared/power/seen-start.ts';
import {
  fitSource,
  NAMEPLATE_TOLERANCE,
  USUAL_RANGES,
  type FitStart,
} from '../../shared/power/source-fit.ts';
import { adviseGrace, type GraceStart } from '../../shared/power/start-grace.ts';
import {
  dropLineOf,
  dropOutAt,
  lockedRotorOhms,
  predictOnGenerator,
  predictTogether,
} from '../../shared/power/start-prediction.ts';

const at = (seconds: number) => Math.round(seconds * SECOND);
const samples = (...pairs: readonly (readonly [number, number])[]) =>
  pairs.map(([seconds, volts]) => ({ t: at(seconds), volts }));
const start = { earliest: at(100), latest: at(100.1) };

describe('locked-rotor amps by code letter [NEC Table 430.7(B)]', () => {
  it('20 hp at 460 V three-phase, code G, is at most 158 A [NEC 430.7(B) handbook example]', () => {
    const [least, most] = ampsByCodeLetter('G', 20, { volts: 460, phases: 3 });
    expect(most).toBeCloseTo(158, 0);
    expect(least).toBeCloseTo(140.6, 1);
  });

  it('each letter begins where the one before ends, and I, O and Q are none', () => {
    const rows = Object.values(CODE_LETTERS);
    for (const [i, [low]] of rows.entries()) if (i > 0) expect(low).toBeCloseTo(rows[i - 1]![1] + 0.01, 9);
    expect(Object.keys(CODE_LETTERS).join('')).toBe('ABCDEFGHJKLMNPRSTUV');
  });
});

describe('a start as a voltmeter saw it', () => {
  const onChange = (...pairs: readonly (readonly [number, number])[]): StartWindow => ({
    start,
    samples: samples(...pairs),
    deadband: 0.3,
  });

  it('reported on change: before, and the lowest while the rotor was locked', () => {
    expect(seenStart(onChange([60, 240.2], [100.02, 234.5], [100.44, 239.9]))).toEqual({
      kind: 'seen',
      before: 240.2,
      during: 234.5,
      within: 0.05,
      at: at(100.02),
    });
  });

  it('no change reported: it moved by less than the deadband', () => {
    expect(seenStart(onChange([60, 240.2]))).toMatchObject({ kind: 'seen', during: 240.2, within: 0.3 });
  });

  it('read each second it may be missed: what was read is the least that it fell', () => {
    const each = Array.from({ length: 20 }, (_, i) => [90 + i, i === 11 ? 238.1 : 240] as const);
    const seen = seenStart({ start, samples: samples(...each), deadband: null });
    expect(seen).toEqual({ kind: 'too-slow', before: 240, lowest: 238.1, everySeconds: 1 });
  });

  it('half-cycle values of a recorder show it', () => {
    const each = Array.from({ length: 1200 }, (_, i) => {
      const t = 94 + i / 120;
      return [t, t > 100.05 && t < 100.4 ? 234.5 : 240] as const;
    });
    const seen = seenStart({ start, samples: samples(...each), deadband: null });
    expect(seen).toMatchObject({ kind: 'seen', before: 240, during: 234.5 });
  });

  it('with no voltage before there is nothing to hold it against', () => {
    expect(seenStart(onChange([100.02, 234.5]))).toEqual({ kind: 'no-voltage' });
  });
});

describe('starts together', () => {
  const ohms = lockedRotorOhms(240, 96, 1);
  const unit = (id: string) => ({ id, ohms, tolerance: NAMEPLATE_TOLERANCE });
  const starts: FitStart[] = [1, 2, 3, 4].map((n) => ({
    unit: `unit-${1 + (n % 2)}`,
    before: 240,
    during: 234.48,
    within: 0.05,
  }));

  it('one start 234.480 V is seen, so two are about 229.207 V [computed, handbook 9]', () => {
    const fit = fitSource(starts, [unit('unit-1'), unit('unit-2')])!;
    const { volts, dip } = predictTogether(fit, [unit('unit-1'), unit('unit-2')])!;
    expect(volts[0]).toBeLessThan(229.207);
    expect(volts[1]).toBeGreaterThan(229.207);
    expect(volts[1] - volts[0]).toBeLessThan(2);
    expect(100 * dip[0]).toBeLessThan(4.4971);
    expect(100 * dip[1]).toBeGreaterThan(4.4971);
    // transformer 25 kVA 2 % X/R 1.5 and 75 ft of two conductors, as in that example
    expect(fit.ohms![0]).toBeLessThan(Math.hypot(0.02556 + 0.015, 0.03834 + 0.0045));
    expect(fit.ohms![1]).toBeGreaterThan(Math.hypot(0.02556 + 0.015, 0.03834 + 0.0045));
  });

  it('a unit that was never seen counts by its nameplate; without one nothing is said', () => {
    const fit = fitSource(starts, [unit('unit-1'), unit('unit-2')])!;
    const unseen = predictTogether(fit, [unit('unit-1'), unit('unit-9')])!;
    const seen = predictTogether(fit, [unit('unit-1'), unit('unit-2')])!;
    expect(unseen.volts[0]).toBeLessThan(seen.volts[0]);
    expect(predictTogether(fit, [{ ...unit('unit-9'), ohms: null }])).toBeNull();
    expect(fitSource([], [])).toBeNull();
  });

  it('on a generator its transient reactance tells: 24 kVA at 0.25, 100 A at no power factor, 20 %', () => {
    const motor = { id: 'unit-1', ohms: lockedRotorOhms(240, 100, 1), tolerance: 0 };
    const source = { ratedKva: 24, transientReactance: [0.25, 0.25] as const };
    const { dip } = predictOnGenerator(source, [motor], 240, { powerFactor: [0, 0] }, 1)!;
    expect(dip[0]).toBeCloseTo(0.2, 9);
    expect(dip[1]).toBeCloseTo(0.2, 9);
    const usual = predictOnGenerator(source, [{ ...motor, tolerance: 0.1 }], 240, USUAL_RANGES, 1)!;
    expect(usual.volts[0]).toBeLessThan(usual.volts[1]);
  });

  it('a unit at ratio 26/240 with an 18 V trip drops at a line of 166 V [handbook 5.2]', () => {
    const line = dropLineOf(18, [26 / 240, 26 / 240]);
    expect(line[0]).toBeCloseTo(166, 0);
    expect(dropOutAt([229, 230], line)).toBe('holds');
    expect(dropOutAt([150, 160], line)).toBe('drops');
    expect(dropOutAt([160, 170], line)).toBe('unsure');
  });
});

describe('undervoltage start grace [handbook 5.6]', () => {
  /** below 18 V for so long after the start */
  const low = (seconds: number, dropped = false): GraceStart => ({
    start: { earliest: at(100), latest: at(100) },
    samples: samples([90, 25], [100.02, 16.5], [100 + seconds, 24]),
    dropped,
  });
  const well: GraceStart = { start, samples: samples([90, 25], [100.02, 22], [100.4, 25]), dropped: false };
  const five = <T>(one: T): T[] => Array.from({ length: 5 }, () => one);

  it('is the shortest time that covers all seen starts, and a quarter more', () => {
    const advice = adviseGrace([...five(low(0.42)), low(0.61)], 18, 0);
    expect(advice).toEqual({ kind: 'suggested', seconds: 0.8, starts: 6, longest: 0.61 });
  });

  it('isn’t needed where the voltage never falls below trip', () => {
    expect(adviseGrace(five(well), 18, 0)).toEqual({ kind: 'none-needed', starts: 5 });
  });

  it.each([
    ['lasts', [...five(low(0.4)), low(2.3)], 18, 0],
    ['no-recovery', [...five(low(0.4)), low(30)], 18, 0],
    ['cut-short', [...five(low(0.4)), low(0.2, true)], 18, 0],
    ['few-starts', [low(0.4)], 18, 0],
    ['too-slow', five(low(0.4)), 18, 5],
    ['no-trip', five(low(0.4)), null, 0],
  ] as const)('is refused: %s', (why, starts, trip, every) => {
    expect(adviseGrace(starts, trip, every)).toMatchObject({ kind: 'refused', why });
  });
});
