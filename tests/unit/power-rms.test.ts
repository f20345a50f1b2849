import { describe, expect, it } from 'vitest';
import { SECOND } from '../../shared/base/instant.ts';
import { excursionsInWaveforms } from '../../shared/power/detect.ts';
import { halfCycleRms, type Waveform } from '../../shared/power/rms.ts';

const F = 60;

/** A sine of 1 pu (RMS), at `level` from `from` to `to` (in cycles), sampled `rate` times a second for 16 cycles. */
interface Dipped {
  readonly rate: number;
  readonly from: number;
  readonly cycles: number;
  readonly level: number;
  /** cycles at which sampling begins */
  readonly offset?: number;
  /** Hz; 60 where it isn't given */
  readonly frequency?: number;
}

function dipped({ rate, from, cycles, level, offset = 0, frequency = F }: Dipped): Waveform {
  const values = Array.from({ length: Math.floor((16 * rate) / frequency) + 1 }, (_, i) => {
    const at = offset + (i * frequency) / rate;
    const amplitude = at >= from - 1e-9 && at < from + cycles - 1e-9 ? level : 1;
    return amplitude * Math.SQRT2 * Math.sin(2 * Math.PI * at);
  });
  return { startAt: 0, step: 1 / rate, values };
}

/** The integral of 2·sin² from 0 to `at` cycles. */
const square = (at: number): number => at - Math.sin(4 * Math.PI * at) / (4 * Math.PI);

/** Urms(1/2) in closed form: over the cycle around each whole half cycle `at`. */
function analytical(at: number, { from, cycles, level }: Dipped): number {
  const inside = (place: number): number => Math.min(Math.max(place, from), from + cycles);
  const [low, high] = [at - 0.5, at + 0.5];
  const all = square(high) - square(low);
  const dip = square(inside(high)) - square(inside(low));
  return Math.sqrt(all - (1 - level ** 2) * dip);
}

/** The greatest difference from the closed form, and how many values there were; `within` leaves values out. */
function worst(wave: Dipped, within: (at: number) => boolean = () => true): { off: number; values: number } {
  const frequency = wave.frequency ?? F;
  const { t, rms } = halfCycleRms(dipped(wave), frequency);
  const off = t.map((instant, i) => {
    const at = Math.round(2 * ((wave.offset ?? 0) + (instant / SECOND) * frequency)) / 2;
    return within(at) ? Math.abs(rms[i]! - analytical(at, wave)) : 0;
  });
  return { off: Math.max(...off), values: t.length };
}

const beside = (values: readonly number[], expected: readonly number[]): void => {
  expect(values).toHaveLength(expected.length);
  for (const [i, value] of values.entries()) expect(Math.abs(value - expected[i]!)).toBeLessThan(1e-6);
};
const times = (count: number, value: number): number[] => Array.from({ length: count }, () => value);
const changed = (wave: Dipped): number[] =>
  halfCycleRms(dipped(wave), F).rms.filter((value) => Math.abs(value - 1) > 1e-6);

describe('Urms(1/2) [IEC 61000-4-30; handbook 9, computed]', () => {
  it.each([1_920, 7_680, 30_720])('to 0.7 pu at phase 0 for 5 cycles, %i a second', (rate) => {
    const values = changed({ rate, from: 4, cycles: 5, level: 0.7 });
    beside(values, [0.863134, ...times(9, 0.7), 0.863134]);
  });

  it.each([1_920, 7_680, 30_720])('to 0.7 pu at 90° for 5 cycles, %i a second', (rate) => {
    const values = changed({ rate, from: 4.25, cycles: 5, level: 0.7 });
    beside(values, [0.934077, 0.785812, ...times(8, 0.7), 0.785812, 0.934077]);
  });

  it('half a cycle at 0 pu: two values of 0.707107', () => {
    const values = changed({ rate: 7_680, from: 4, cycles: 0.5, level: 0 });
    beside(values, [Math.SQRT1_2, Math.SQRT1_2]);
  });
});

describe('the closed form, within 1e-3 pu', () => {
  const phases = [0, 45, 90];
  // where the change falls on a sample: every eighth of a cycle is one
  const on60 = [1_440, 1_920, 3_840, 7_680, 15_360, 30_720];
  const on50 = [1_200, 2_000, 3_200, 6_400, 12_800, 25_600, 30_800];
  const whole = [
    ...on60.map((rate) => ({ rate, frequency: 60 })),
    ...on50.map((rate) => ({ rate, frequency: 50 })),
  ];
  it.each(whole.flatMap((one) => phases.map((phase) => ({ ...one, phase }))))(
    '$rate a second of $frequency Hz, from $phase°',
    ({ rate, frequency, phase }) => {
      const { off, values } = worst({ rate, frequency, from: 4 + phase / 360, cycles: 5, level: 0.7 });
      expect(values).toBeGreaterThanOrEqual(29);
      expect(off).toBeLessThan(1e-3);
    },
  );

  // no whole number of samples a cycle, or begun anywhere. From a zero crossing the old course and the new one meet, so that
  // the turn is found between two samples
  const anywhere = [1_200, 1_234.5, 2_000, 4_444, 6_400, 12_800, 30_707.244];
  it.each(anywhere)('%d a second, at no particular place, from 0°', (rate) => {
    for (const [offset, level] of [
      [0.013, 0.7],
      [0.021, 0.3],
      [0.037, 0.9],
    ] as const)
      expect(worst({ rate, from: 4, cycles: 5, level, offset }).off).toBeLessThan(1e-3);
  });

  // from any other phase the waveform jumps, and wherever between two samples it does, the samples are the same: the windows
  // that hold a jump may be off by its share of one sample, and no other
  it.each(anywhere)('%d a second, at no particular place, from 45° and 90°', (rate) => {
    for (const phase of [45, 90]) {
      const wave = { rate, from: 4 + phase / 360, cycles: 5, level: 0.7, offset: 0.013 };
      const edges = [wave.from, wave.from + wave.cycles];
      const share = (2 * (1 - 0.7 ** 2) * F) / rate / (2 * 0.7);
      const isAtEdge = (at: number) => edges.some((edge) => Math.abs(edge - at) < 0.5 + F / rate);
      expect(worst(wave, (at) => !isAtEdge(at)).off).toBeLessThan(1e-3);
      expect(worst(wave).off).toBeLessThan(1e-3 + share);
    }
  });
});

describe('whatever comes from a gateway', () => {
  it('follows a frequency beside the nominal one', () => {
    const values = Array.from(
      { length: 2_000 },
      (_, i) => Math.SQRT2 * Math.sin((2 * Math.PI * 58.7 * i) / 7_680),
    );
    const { rms } = halfCycleRms({ startAt: 0, step: 1 / 7_680, values }, F);
    expect(Math.max(...rms.map((value) => Math.abs(value - 1)))).toBeLessThan(1e-4);
  });

  it('harmonics count by their RMS, and are no jumps', () => {
    const values = Array.from({ length: 2_000 }, (_, i) => {
      const angle = (2 * Math.PI * F * i) / 3_840;
      return Math.SQRT2 * (Math.sin(angle) + 0.1 * Math.sin(5 * angle) + 0.05 * Math.sin(7 * angle));
    });
    const { rms } = halfCycleRms({ startAt: 0, step: 1 / 3_840, values }, F);
    const expected = Math.sqrt(1 + 0.1 ** 2 + 0.05 ** 2);
    expect(Math.max(...rms.map((value) => Math.abs(value - expected)))).toBeLessThan(1e-3);
  });

  it('carries the crossings on through an interruption', () => {
    const wave = dipped({ rate: 7_680, from: 4, cycles: 5, level: 0 });
    const { t, rms } = halfCycleRms(wave, F);
    expect(t.length).toBeGreaterThanOrEqual(30);
    expect(Math.min(...rms)).toBe(0);
  });

  it('a waveform shorter than a cycle, a flat one and an empty one give no value that was not there', () => {
    const short = dipped({ rate: 7_680, from: 99, cycles: 1, level: 1 });
    expect(halfCycleRms({ ...short, values: Array.from(short.values).slice(0, 120) }, F).t).toEqual([]);
    expect(halfCycleRms({ ...short, values: [] }, F).t).toEqual([]);
    expect(halfCycleRms({ ...short, values: times(300, 0) }, F).rms.every((value) => value === 0)).toBe(true);
  });

  it('cut in two anywhere it shows the same dips as whole: the ends invent none', () => {
    const whole = dipped({ rate: 7_680, from: 99, cycles: 1, level: 1 });
    for (let cut = 200; cut < 1_800; cut += 37) {
      const pieces = [Array.from(whole.values).slice(0, cut), Array.from(whole.values).slice(cut)];
      for (const values of pieces)
        expect(halfCycleRms({ ...whole, values }, F).rms.every((value) => Math.abs(value - 1) < 1e-6)).toBe(
          true,
        );
    }
  });

  it('a dip is found in waveforms of several channels, each with its own crossings', () => {
    const phase = (offset: number, level: number) =>
      dipped({ rate: 7_680, from: 4, cycles: 5, level, offset });
    const waves = { ab: phase(0, 0.6), bc: phase(1 / 3, 0.8), ca: phase(2 / 3, 1) };
    expect(excursionsInWaveforms(waves, 1, F)).toMatchObject([
      { kind: 'sag', residual: expect.closeTo(0.6, 6) as number, channels: ['ab', 'bc'] },
    ]);
  });
});
