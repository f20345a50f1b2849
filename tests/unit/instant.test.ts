import fc from 'fast-check';
import { describe, expect, test } from 'vitest';
import {
  formatInstant,
  inSeconds,
  instantFromMilliseconds,
  parseInstant,
  REACH,
  seconds,
  SECOND,
} from '../../shared/base/instant.ts';

/** from the year 1684 to 2255: every microsecond there is a number of its own */
const anyInstant = fc.integer({ min: 1 - REACH, max: REACH - 1 });

describe('a time on the wire (contract 1.1)', () => {
  test.each([
    ['2026-03-02T08:15:00.250Z', 1_772_439_300_250_000],
    ['2026-03-02T08:15:00Z', 1_772_439_300_000_000],
    ['2026-03-02T08:15Z', 1_772_439_300_000_000],
    ['2026-03-02t08:15:00z', 1_772_439_300_000_000],
    ['2026-03-02T02:15:00-06:00', 1_772_439_300_000_000],
    ['2026-03-02T02:15:00-0600', 1_772_439_300_000_000],
    ['2026-03-02T13:45:00+05:30', 1_772_439_300_000_000],
    ['1970-01-01T00:00:00Z', 0],
    ['1969-12-31T23:59:59.999999Z', -1],
  ])('%s is read', (text, instant) => {
    expect(parseInstant(text)).toBe(instant);
  });

  test.each([
    ['no zone', '2026-03-02T08:15:00'],
    ['a day alone', '2026-03-02'],
    ['a thirteenth month', '2026-13-02T08:15:00Z'],
    ['the thirtieth of February', '2026-02-30T08:15:00Z'],
    ['the 29th of February in a common year', '2026-02-29T00:00:00Z'],
    ['hour 24', '2026-03-02T24:00:00Z'],
    ['minute 60', '2026-03-02T08:60:00Z'],
    ['a leap second', '2016-12-31T23:59:60Z'],
    ['a zone by name', '2026-03-02T08:15:00 America/Chicago'],
    ['a space for the T', '2026-03-02 08:15:00Z'],
    ['the year 50', '0050-03-02T08:15:00Z'],
    ['a year in which microseconds can no longer be told apart', '2256-01-01T00:00:00Z'],
    ['something after it', '2026-03-02T08:15:00Zulu'],
    ['empty text', ''],
  ])('%s is refused', (_, text) => {
    expect(parseInstant(text)).toBeNull();
  });

  test('the 29th of February in a leap year is a day', () => {
    expect(formatInstant(parseInstant('2028-02-29T12:00:00Z')!)).toBe('2028-02-29T12:00:00.000Z');
  });

  test('a summer hour and the winter hour of the same wall time lie one hour apart, as their offsets say', () => {
    const first = parseInstant('2026-11-01T01:30:00-04:00')!;
    const second = parseInstant('2026-11-01T01:30:00-05:00')!;
    expect(inSeconds(second - first)).toBe(3600);
    expect(formatInstant(first)).toBe('2026-11-01T05:30:00.000Z'); // [std: RFC 5545, handbook 9]
  });

  test.each([
    ['a tenth of a microsecond rounds down', '.2500001', 250_000],
    ['half a microsecond rounds up', '.2500005', 250_001],
    ['twelve digits are taken', '.123456789012', 123_457],
    ['nearly a second becomes the next one', '.9999999', SECOND],
    ['a comma for the point', ',25', 250_000],
  ])('%s', (_, fraction, micros) => {
    expect(parseInstant(`1970-01-01T00:00:00${fraction}Z`)).toBe(micros);
  });
});

describe('properties', () => {
  test('what is written is read back to the microsecond', () => {
    fc.assert(
      fc.property(anyInstant, (instant) => parseInstant(formatInstant(instant)) === instant),
      { numRuns: 5000 },
    );
  });

  test('written times sort as the instants do', () => {
    fc.assert(
      fc.property(anyInstant, anyInstant, (a, b) => {
        // fixed width only to the millisecond; a microsecond's text is longer, so compare what is common to both
        const [x, y] = [formatInstant(a).slice(0, 23), formatInstant(b).slice(0, 23)];
        return a <= b ? x <= y : x >= y;
      }),
      { numRuns: 2000 },
    );
  });

  test('an offset moves the text and never the instant', () => {
    const offset = fc.integer({ min: -23 * 60 - 59, max: 23 * 60 + 59 });
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 4_000_000_000_000 }), offset, (milliseconds, minutes) => {
        const local = new Date(milliseconds + minutes * 60_000).toISOString().slice(0, -1);
        return parseInstant(local + zoneOf(minutes)) === milliseconds * 1000;
      }),
      { numRuns: 2000 },
    );
  });

  test('any text at all is read or refused, and what is read is a whole number', () => {
    const digits = fc.stringMatching(
      /^\d{4}-\d{2}-\d{2}T\d{2}:\d{2}(:\d{2}(\.\d{1,12})?)?(Z|[+-]\d{2}:\d{2})$/,
    );
    fc.assert(
      fc.property(fc.oneof(fc.string(), digits), (text) => {
        const read = parseInstant(text);
        return read === null || Number.isSafeInteger(read);
      }),
      { numRuns: 5000 },
    );
  });
});

describe('numbers', () => {
  test('Unix milliseconds with a fraction are rounded once, to the microsecond', () => {
    expect(instantFromMilliseconds(1_772_439_300_250.125)).toBe(1_772_439_300_250_125);
    expect(instantFromMilliseconds(0.0004)).toBe(0);
    expect(instantFromMilliseconds(0.0005)).toBe(1);
  });

  test('whole milliseconds lose nothing', () => {
    fc.assert(
      fc.property(fc.integer({ min: 0, max: 7_258_118_400_000 }), (milliseconds) => {
        return instantFromMilliseconds(milliseconds) === milliseconds * 1000;
      }),
    );
  });

  test('seconds and back', () => {
    expect(seconds(210)).toBe(210_000_000);
    expect(seconds(0.0083333)).toBe(8333);
    expect(inSeconds(seconds(0.1) * 3)).toBe(0.3);
  });
});

function zoneOf(minutes: number): string {
  const of = Math.abs(minutes);
  const two = (n: number) => String(n).padStart(2, '0');
  return `${minutes < 0 ? '-' : '+'}${two(Math.floor(of / 60))}:${two(of % 60)}`;
}
