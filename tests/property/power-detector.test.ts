import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inSeconds } from '../../shared/base/instant.ts';
import { excursionsIn } from '../../shared/power/detect.ts';
import { USUAL_LIMITS, type Excursion, type ExcursionKind } from '../../shared/power/excursion.ts';
import { halfCycleRms } from '../../shared/power/rms.ts';

/**
 * The detector beside a reference that is written as the standard is read: for each kind, look through the whole series for
 * a beginning, from there for an end, and at everything between. 10,000 random series of one to three channels, whose
 * values lie on and around the thresholds; random waveforms besides, from their samples on (1,000 in an ordinary run, 10,000
 * with POWER_WAVES=10000).
 */
const HISTORIES = Number(process.env['POWER_SERIES'] ?? 10_000);
const WAVES = Number(process.env['POWER_WAVES'] ?? 1_000);

const LEVELS = [
  0, 0.05, 0.0999, 0.1, 0.11, 0.12, 0.5, 0.7, 0.89, 0.9, 0.91, 0.92, 1, 1.08, 1.09, 1.1, 1.11, 1.3,
];
const value = fc.oneof(fc.constantFrom(...LEVELS), fc.double({ min: 0, max: 1.4, noNaN: true }));

interface Series {
  readonly t: readonly number[];
  readonly channels: readonly (readonly number[])[];
}

function reference({ t, channels }: Series): Excursion[] {
  const names = channels.map((_, i) => `c${i}`);
  const limits = USUAL_LIMITS;
  const at = (i: number): number[] => channels.map((values) => values[i]!);
  const rules: Record<ExcursionKind, { begins: (v: number[]) => boolean; ends: (v: number[]) => boolean }> = {
    interruption: { begins: (v) => v.every((x) => x < 0.1), ends: (v) => v.some((x) => x >= 0.12 - 1e-12) },
    sag: { begins: (v) => v.some((x) => x < 0.9), ends: (v) => v.every((x) => x >= 0.92 - 1e-12) },
    swell: { begins: (v) => v.some((x) => x > 1.1), ends: (v) => v.every((x) => x <= 1.08 + 1e-12) },
  };
  const out: Record<ExcursionKind, (x: number) => boolean> = {
    interruption: (x) => x < limits.interruptionBelow,
    sag: (x) => x < limits.sagBelow,
    swell: (x) => x > limits.swellAbove,
  };
  const found: Excursion[] = [];
  for (const kind of ['interruption', 'sag', 'swell'] as const)
    for (let i = 0; i < t.length; i++) {
      if (!rules[kind].begins(at(i))) continue;
      let j = i;
      while (j < t.length && !rules[kind].ends(at(j))) j++;
      const inside = channels.map((values) => values.slice(i, j));
      const all = inside.flat();
      found.push({
        kind,
        start: t[i]!,
        end: j < t.length ? t[j]! : null,
        residual: kind === 'swell' ? Math.max(...all) : Math.min(...all),
        seconds: j < t.length ? inSeconds(t[j]! - t[i]!) : null,
        channels: names.filter((_, c) => inside[c]!.some(out[kind])),
      });
      i = j;
    }
  return found.sort((a, b) => a.start - b.start);
}

const detected = ({ t, channels }: Series): Excursion[] =>
  excursionsIn(Object.fromEntries(channels.map((values, i) => [`c${i}`, { t, values }])));

describe('the detector is what the standard says', () => {
  it(`over ${HISTORIES} random series`, () => {
    const series = fc.integer({ min: 1, max: 3 }).chain((channels) =>
      fc.array(
        fc.tuple(
          fc.integer({ min: 1, max: 100_000 }),
          fc.array(value, { minLength: channels, maxLength: channels }),
        ),
        {
          minLength: 1,
          maxLength: 30,
        },
      ),
    );
    fc.assert(
      fc.property(series, (steps) => {
        let now = 0;
        const t = steps.map(([gap]) => (now += gap));
        const channels = steps[0]![1].map((_, c) => steps.map(([, values]) => values[c]!));
        expect(detected({ t, channels })).toEqual(reference({ t, channels }));
      }),
      { numRuns: HISTORIES },
    );
  });
});

/** The RMS of each window by adding up squares at 400 places a cycle: slow, and with nothing to go wrong. */
const FINE = 400;
const SQUARES = Float64Array.from(
  { length: FINE },
  (_, i) => 2 * Math.sin((2 * Math.PI * (i + 0.5)) / FINE) ** 2,
);
function slowRms(amplitude: (cycle: number) => number, at: number): number {
  const first = Math.round((at - 0.5) * FINE);
  let sum = 0;
  for (let i = first; i < first + FINE; i++) sum += amplitude((i + 0.5) / FINE) ** 2 * SQUARES[i % FINE]!;
  return Math.sqrt(sum / FINE);
}

describe('from waveforms to events', () => {
  it(`${WAVES} random waveforms give the values and the events that adding up gives`, () => {
    const wave = fc.record({
      perCycle: fc.constantFrom(32, 64, 128),
      from: fc.integer({ min: 16, max: 64 }),
      length: fc.integer({ min: 4, max: 96 }),
      level: fc.double({ min: 0, max: 1.3, noNaN: true }),
    });
    fc.assert(
      fc.property(wave, ({ perCycle, from, length, level }) => {
        // in eighths of a cycle: a change falls on a sample
        const amplitude = (cycle: number): number =>
          cycle >= from / 8 && cycle < (from + length) / 8 ? level : 1;
        const values = Array.from({ length: 24 * perCycle + 1 }, (_, i) => {
          const cycle = i / perCycle;
          return amplitude(cycle + 1e-9) * Math.SQRT2 * Math.sin(2 * Math.PI * cycle);
        });
        const { t, rms } = halfCycleRms({ startAt: 0, step: 1 / (60 * perCycle), values }, 60);
        const places = t.map((instant) => Math.round((instant * 120) / 1e6) / 2);
        const expected = places.map((place) => slowRms(amplitude, place));
        for (const [i, one] of rms.entries()) expect(Math.abs(one - expected[i]!)).toBeLessThan(1e-3);
        // unless a value lies within that of a threshold, both see the same
        const near = expected.some((x) =>
          [0.1, 0.12, 0.9, 0.92, 1.08, 1.1].some((limit) => Math.abs(x - limit) < 1e-3),
        );
        if (near) return;
        const shape = (events: Excursion[]) => events.map(({ kind, start, end }) => ({ kind, start, end }));
        expect(shape(detected({ t, channels: [rms] }))).toEqual(
          shape(reference({ t, channels: [expected] })),
        );
      }),
      { numRuns: WAVES },
    );
  });
});
