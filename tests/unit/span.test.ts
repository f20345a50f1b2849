import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import { elapsed, exactly, later, overlap, shifted, type Span } from '../../shared/base/span.ts';
import { seconds } from '../../shared/base/instant.ts';

const between = (earliest: number, latest: number): Span => ({
  earliest: seconds(earliest),
  latest: seconds(latest),
});

/** a span, and one true instant in it */
const spanAndTruth = fc
  .tuple(
    fc.integer({ min: 0, max: 1e9 }),
    fc.integer({ min: 0, max: 1e7 }),
    fc.double({ min: 0, max: 1, noNaN: true }),
  )
  .map(([from, width, share]) => ({
    span: { earliest: from, latest: from + width },
    truth: from + Math.floor(width * share),
  }));

describe('interval arithmetic (handbook 3)', () => {
  test('a stop seen between two polls and a start between two others give a gap uncertain by both', () => {
    expect(elapsed(between(100, 110), between(315, 325))).toEqual([205, 225]);
  });

  test('two exact instants give one number', () => {
    expect(elapsed(exactly(seconds(500)), exactly(seconds(710)))).toEqual([210, 210]);
  });

  test('the true duration always lies within the bounds', () => {
    fc.assert(
      fc.property(spanAndTruth, spanAndTruth, (a, b) => {
        const [low, high] = elapsed(a.span, b.span);
        const real = (b.truth - a.truth) / 1e6;
        return low <= real && real <= high;
      }),
      { numRuns: 3000 },
    );
  });

  test('the later of two true instants lies in the later of their spans', () => {
    fc.assert(
      fc.property(spanAndTruth, spanAndTruth, (a, b) => {
        const { earliest, latest } = later(a.span, b.span);
        const real = Math.max(a.truth, b.truth);
        return earliest <= real && real <= latest;
      }),
    );
  });

  test('spans that touch at one instant overlap', () => {
    expect(overlap(between(0, 10), between(10, 20))).toBe(true);
    expect(overlap(between(0, 9.999999), between(10, 20))).toBe(false);
  });

  test('overlapping is mutual, and holds wherever the truth is the same', () => {
    fc.assert(
      fc.property(spanAndTruth, spanAndTruth, (a, b) => {
        const mutual = overlap(a.span, b.span) === overlap(b.span, a.span);
        return mutual && (a.truth !== b.truth || overlap(a.span, b.span));
      }),
    );
  });

  test('moving both spans by the same changes no duration', () => {
    fc.assert(
      fc.property(spanAndTruth, spanAndTruth, fc.integer({ min: -1e9, max: 1e9 }), (a, b, by) => {
        const moved = elapsed(shifted(a.span, by), shifted(b.span, by));
        expect(moved).toEqual(elapsed(a.span, b.span));
      }),
    );
  });
});
