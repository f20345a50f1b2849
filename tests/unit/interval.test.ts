import fc from 'fast-check';
import { expect, test } from 'vitest';
import { mergeIntervals, type Interval } from '../../shared/telemetry/interval.ts';
import { BAD, CONFLICT, GOOD, UNCERTAIN } from '../../shared/telemetry/sample.ts';

/** What a meter saw: merging two claims about one stretch is a join, like that of samples (contract 1.4). */
const FROM = 1_772_439_300_000_000;
const seen = (least: number, most: number, mean: number | null, quality: number = GOOD): Interval => ({
  from: FROM,
  to: FROM + 60_000_000,
  least,
  most,
  mean,
  quality,
});

const fresh = fc
  .tuple(
    fc.constantFrom(230, 236),
    fc.constantFrom(240, 244),
    fc.constantFrom(null, 238, 239),
    fc.constantFrom(GOOD, UNCERTAIN, BAD),
  )
  .map(([least, most, mean, quality]) => seen(least, most, mean, quality));

test('the same again changes nothing', () => {
  expect(mergeIntervals(seen(230, 240, 238), seen(230, 240, 238))).toEqual(seen(230, 240, 238));
});

test('two claims that differ give the widest range and the lesser mean, uncertain and flagged', () => {
  expect(mergeIntervals(seen(230, 240, 238), seen(236, 244, 239))).toEqual(
    seen(230, 244, 238, UNCERTAIN | CONFLICT),
  );
});

test('a claim without a mean differs from one with it, whose mean is kept', () => {
  expect(mergeIntervals(seen(230, 240, null), seen(230, 240, 238))).toEqual(
    seen(230, 240, 238, UNCERTAIN | CONFLICT),
  );
});

test('order, grouping and repetition do not matter', () => {
  fc.assert(
    fc.property(fresh, fresh, fresh, (a, b, c) => {
      expect(mergeIntervals(a, b)).toEqual(mergeIntervals(b, a));
      expect(mergeIntervals(mergeIntervals(a, b), c)).toEqual(mergeIntervals(a, mergeIntervals(b, c)));
      expect(mergeIntervals(mergeIntervals(a, b), a)).toEqual(mergeIntervals(a, b));
    }),
    { numRuns: 3000 },
  );
});
