import { describe, expect, it } from 'vitest';
import { ratesOf, ruleOfThree, wilson } from './rates.ts';

describe('rates of a score', () => {
  it('recall, precision and F1 of the check value (handbook 9: TP 42, FN 8, FP 6, TN 144) [computed]', () => {
    const counts = { truePositives: 42, falseNegatives: 8, falsePositives: 6, trueNegatives: 144 };
    const { recall, precision, f1 } = ratesOf(counts);
    expect(recall?.value).toBeCloseTo(0.84, 12);
    expect(precision?.value).toBeCloseTo(0.875, 12);
    expect(f1).toBeCloseTo(0.8571, 4);
  });

  it('Wilson’s 95 % interval of 42 in 50 [computed from his formula]', () => {
    const rate = wilson(42, 50)!;
    expect(rate.low).toBeCloseTo(0.7149, 4);
    expect(rate.high).toBeCloseTo(0.9166, 4);
  });

  it('stays within 0 and 1 where a plain interval has no width', () => {
    expect(wilson(10, 10)!.high).toBeCloseTo(1, 12);
    expect(wilson(10, 10)!.low).toBeCloseTo(0.7225, 4);
    expect(wilson(0, 10)!.low).toBeCloseTo(0, 12);
  });

  it('says nothing of nothing', () => {
    expect(wilson(0, 0)).toBeNull();
    const counts = { truePositives: 0, falseNegatives: 0, falsePositives: 0, trueNegatives: 9 };
    expect(ratesOf(counts)).toEqual({ recall: null, precision: null, f1: null });
  });

  it('none in 3,000 is fewer than one in a thousand, by the rule of three', () => {
    expect(ruleOfThree(3_000)).toBeCloseTo(0.001, 12);
  });
});
