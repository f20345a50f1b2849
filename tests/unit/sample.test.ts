import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  BAD,
  CONFLICT,
  GOOD,
  isConflict,
  isGood,
  mergeSamples,
  qualityLevel,
  qualityWord,
  UNCERTAIN,
  type Sample,
} from '../../shared/telemetry/sample.ts';

const t = 1_772_439_300_000_000;
const at = (value: number, quality: number = GOOD): Sample => ({ t, value, quality });

/** samples of one point and instant, few enough values that equal ones come often; as they come, without a flag */
const fresh: fc.Arbitrary<Sample> = fc.record({
  t: fc.constant(t),
  value: fc.constantFrom(0, 1, 17.5, 26.1, -40),
  quality: fc.constantFrom(GOOD, UNCERTAIN, BAD),
});

describe('merging is a join (contract 1.4)', () => {
  test('the same again changes nothing', () => {
    expect(mergeSamples(at(1), at(1))).toEqual(at(1));
  });

  test('a different value makes it uncertain and flagged, the lesser value kept', () => {
    expect(mergeSamples(at(1), at(0))).toEqual(at(0, UNCERTAIN | CONFLICT));
    expect(mergeSamples(at(0), at(1))).toEqual(at(0, UNCERTAIN | CONFLICT));
  });

  test('the worse quality is kept, and an equal value with a worse quality is no conflict', () => {
    expect(mergeSamples(at(26.1), at(26.1, BAD))).toEqual(at(26.1, BAD));
    expect(mergeSamples(at(26.1, BAD), at(25.9))).toEqual(at(25.9, BAD | CONFLICT));
  });

  test('a conflict is for good: the same value again does not heal it', () => {
    const conflict = mergeSamples(at(1), at(0));
    expect(mergeSamples(conflict, at(0))).toEqual(conflict);
    expect(mergeSamples(conflict, at(1))).toEqual(conflict);
  });

  test('order does not matter, nor does grouping, nor how often one came', () => {
    const some = fc.array(fresh, { minLength: 1, maxLength: 6 });
    fc.assert(
      fc.property(some, fc.array(fc.nat(), { maxLength: 6 }), fc.nat(), (samples, again, seed) => {
        const sent = [...samples, ...again.map((i) => samples[i % samples.length]!)];
        const inOrder = samples.reduce(mergeSamples);
        expect(shuffled(sent, seed).reduce(mergeSamples)).toEqual(inOrder);
        expect(shuffled(sent, seed).reduceRight((left, right) => mergeSamples(right, left))).toEqual(inOrder);
      }),
      { numRuns: 5000 },
    );
  });

  test('what has been merged once stands above both: merging either of them in again changes nothing', () => {
    fc.assert(
      fc.property(fresh, fresh, (a, b) => {
        const both = mergeSamples(a, b);
        expect(mergeSamples(both, a)).toEqual(both);
        expect(mergeSamples(both, b)).toEqual(both);
        expect(mergeSamples(both, both)).toEqual(both);
      }),
    );
  });

  test('two different values never come out good', () => {
    fc.assert(
      fc.property(fresh, fresh, (a, b) => {
        const both = mergeSamples(a, b);
        return a.value === b.value
          ? !isConflict(both.quality)
          : isConflict(both.quality) && !isGood(both.quality);
      }),
    );
  });
});

test('a quality says its level in a word, flagged or not', () => {
  expect([GOOD, UNCERTAIN, BAD].map(qualityWord)).toEqual(['good', 'uncertain', 'bad']);
  expect(qualityWord(UNCERTAIN | CONFLICT)).toBe('uncertain');
  expect(qualityLevel(BAD | CONFLICT)).toBe(BAD);
});

/** the same samples in an order that the seed decides */
function shuffled(samples: readonly Sample[], seed: number): Sample[] {
  const weight = (i: number) => ((i + 1) * 2_654_435_761 * (seed + 1)) % 4_294_967_291;
  return samples
    .map((sample, i) => ({ sample, weight: weight(i) }))
    .sort((a, b) => a.weight - b.weight)
    .map(({ sample }) => sample);
}
