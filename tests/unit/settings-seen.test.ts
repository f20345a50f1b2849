import { describe, expect, it } from 'vitest';
import { allowance, intersect } from '../../shared/inference/unit/settings-seen.ts';
import type { Bounds } from '../../shared/base/span.ts';

/** Handbook 4 rule 8 and its check values. A gap seen with polling period D is uncertain by D either way. */
const polled = (gap: number, period: number): Bounds => [gap - period, gap + period];
const bracket = (gaps: readonly number[], period: number): Bounds | null =>
  gaps
    .map((gap) => polled(gap, period))
    .reduce<Bounds | null>((a, b) => a && intersect(a, b), [-Infinity, Infinity]);

describe('the bracket of a delay', () => {
  it('D 10: gaps 180, 190, 190 bracket it between 180 and 190 [computed]', () => {
    expect(bracket([180, 190, 190], 10)).toEqual([180, 190]);
  });

  it('D 10: gaps 180 and 210 meet in nothing: not one fixed delay [computed]', () => {
    expect(bracket([180, 210], 10)).toBeNull();
  });

  it('a setting of 180 s within 20 %, D 10, is kept by gaps from 134 to 226 s [computed]', () => {
    const kept = (gap: number) => intersect(polled(gap, 10), [180 * 0.8, 180 * 1.2]) !== null;
    expect([133.9, 134, 226, 226.1].map(kept)).toEqual([false, true, true, false]);
  });

  it('agrees with the record within the larger of 5 % and 10 s of hand setting [from memory]', () => {
    expect(allowance(180, 0.05, 10)).toBe(10);
    expect(allowance(300, 0.05, 10)).toBe(15);
  });
});
