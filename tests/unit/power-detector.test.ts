import { describe, expect, it } from 'vitest';
import { MILLISECOND, SECOND, type Instant } from '../../shared/base/instant.ts';
import { excursionsIn } from '../../shared/power/detect.ts';
import { USUAL_LIMITS, type Excursion } from '../../shared/power/excursion.ts';
import { newSlidingReference } from '../../shared/power/sliding-reference.ts';

/** Values a half cycle of 60 Hz apart. */
const HALF = SECOND / 120;
const at = (values: readonly number[], step = HALF): Instant[] => values.map((_, i) => Math.round(i * step));
const found = (values: readonly number[], limits = USUAL_LIMITS, step = HALF): Excursion[] =>
  excursionsIn({ a: { t: at(values, step), values } }, limits);
const repeated = (value: number, times: number): number[] => Array.from({ length: times }, () => value);

describe('dips [rule IEC 61000-4-30; handbook 9, computed]', () => {
  const first = [...repeated(1, 4), 0.863134, ...repeated(0.7, 9), 0.863134, ...repeated(1, 4)];

  it('0.7 pu for 5 cycles from phase 0, 0.90/0.02 at 60 Hz: one dip of 5.5 cycles = 91.667 ms, residual 0.7', () => {
    const [dip, ...more] = found(first);
    expect(more).toEqual([]);
    expect(dip).toMatchObject({ kind: 'sag', residual: 0.7, channels: ['a'] });
    expect(dip!.seconds! * 60).toBeCloseTo(5.5, 4);
    expect(dip!.seconds! * 1000).toBeCloseTo(91.667, 3);
  });

  it('threshold 0.85: 5.0 cycles; hysteresis 0 as well: 4.5', () => {
    const narrower = { ...USUAL_LIMITS, sagBelow: 0.85 };
    expect(found(first, narrower)[0]!.seconds! * 60).toBeCloseTo(5, 4);
    expect(found(first, { ...narrower, hysteresis: 0 })[0]!.seconds! * 60).toBeCloseTo(4.5, 4);
  });

  it('half a cycle at 0 pu: one cycle, residual 0.707107; half a cycle at 0.79: none', () => {
    const [dip] = found([1, 1, Math.SQRT1_2, Math.SQRT1_2, 1, 1]);
    expect(dip!.seconds! * 60).toBeCloseTo(1, 4);
    expect(dip!.residual).toBeCloseTo(0.707107, 6);
    const shallow = Math.sqrt((1 + 0.79 ** 2) / 2);
    expect(found([1, 1, shallow, shallow, 1, 1])).toEqual([]);
  });

  it('hysteresis: 1, .89, .905, .915, .91, .92, 1: one dip, ends at .92', () => {
    const dips = found([1, 0.89, 0.905, 0.915, 0.91, 0.92, 1], USUAL_LIMITS, SECOND);
    expect(dips).toEqual([
      { kind: 'sag', start: SECOND, end: 5 * SECOND, residual: 0.89, seconds: 4, channels: ['a'] },
    ]);
  });

  it('one that has not ended is open', () => {
    expect(found([1, 0.5, 0.6])).toMatchObject([{ kind: 'sag', end: null, seconds: null, residual: 0.5 }]);
  });
});

describe('several channels [IEC 61000-4-30]', () => {
  it('A below 100–350 ms (min 60 %), B 200–500 ms (75 %): one dip 100–500, residual 60 %', () => {
    const times = Array.from({ length: 70 }, (_, i) => i * 10);
    const t = times.map((ms) => ms * MILLISECOND);
    const a = times.map((ms) => (ms >= 100 && ms < 350 ? (ms === 200 ? 0.6 : 0.7) : 1));
    const b = times.map((ms) => (ms >= 200 && ms < 500 ? 0.75 : 1));
    expect(excursionsIn({ a: { t, values: a }, b: { t, values: b } })).toEqual([
      {
        kind: 'sag',
        start: 100 * MILLISECOND,
        end: 500 * MILLISECOND,
        residual: 0.6,
        seconds: 0.4,
        channels: ['a', 'b'],
      },
    ]);
  });

  it('an interruption begins when all are below 10 % and ends when any one is back; the dip around it is kept', () => {
    const a = { t: at([1, 2, 3, 4, 5, 6], SECOND), values: [1, 0.05, 0.05, 0.05, 1, 1] };
    const b = { t: a.t, values: [1, 1, 0.02, 0.02, 0.02, 1] };
    expect(excursionsIn({ a, b })).toMatchObject([
      { kind: 'sag', start: SECOND, end: 5 * SECOND, residual: 0.02 },
      { kind: 'interruption', start: 2 * SECOND, end: 4 * SECOND, residual: 0.02, channels: ['a', 'b'] },
    ]);
  });

  it('a swell begins above 110 % and ends at or below 108 %', () => {
    expect(found([1, 1.1, 1.11, 1.2, 1.09, 1.08, 1], USUAL_LIMITS, SECOND)).toMatchObject([
      { kind: 'swell', start: 2 * SECOND, end: 5 * SECOND, residual: 1.2 },
    ]);
  });
});

describe('a sliding reference [IEC 61000-4-30, figures from memory]', () => {
  it('follows a slow sinking of the supply, and a dip is told from there', () => {
    // from 1.0 to 0.88 over ten minutes: below 90 % of declared, no dip for whoever follows
    const slow = Array.from({ length: 72_000 }, (_, i) => 1 - (0.12 * i) / 72_000);
    const values = [...slow, ...repeated(0.78, 12), ...repeated(0.88, 12)];
    const series = { a: { t: at(values), values } };
    expect(excursionsIn(series)).toMatchObject([{ kind: 'sag', end: null }]);
    const dips = excursionsIn(series, USUAL_LIMITS, newSlidingReference(60));
    expect(dips).toMatchObject([{ kind: 'sag', residual: 0.78 }]);
    expect(dips[0]!.seconds! * 60).toBeCloseTo(6, 4);
  });

  it('stands still during an excursion', () => {
    const values = [...repeated(1, 48), ...repeated(0.5, 7200)];
    const sliding = newSlidingReference(60, { a: 1 });
    excursionsIn({ a: { t: at(values), values } }, USUAL_LIMITS, sliding);
    expect(sliding.levels['a']).toBeCloseTo(1, 9);
  });
});
