import { describe, expect, test } from 'vitest';
import { formatInstant, parseInstant } from '../../shared/base/instant.ts';
import {
  clockText,
  instantOfMinutes,
  instantOfWall,
  isZone,
  parseClock,
  parseDate,
  wallOf,
  weekdayOf,
} from '../../shared/people/wall-time.ts';

const NEW_YORK = 'America/New_York';

function wall(text: string) {
  const [year, month, day, hour, minute] = text.split(/[-T:]/).map(Number);
  return { year: year!, month: month!, day: day!, hour: hour!, minute: minute!, second: 0 };
}

describe('a wall time and its instant', () => {
  test.each([
    // RFC 5545 section 3.3.5 (FORM #3): occurring twice is the first, not occurring takes the offset before the gap
    ['2026-11-01T01:30', NEW_YORK, '2026-11-01T05:30:00.000Z'],
    ['2026-03-08T02:30', NEW_YORK, '2026-03-08T07:30:00.000Z'],
    // computed from the zones' rules as published (tz database)
    ['2026-11-01T02:00', NEW_YORK, '2026-11-01T07:00:00.000Z'],
    ['2026-03-08T03:00', NEW_YORK, '2026-03-08T07:00:00.000Z'],
    ['2026-10-25T02:30', 'Europe/Berlin', '2026-10-25T00:30:00.000Z'],
    ['2026-03-29T02:30', 'Europe/Berlin', '2026-03-29T01:30:00.000Z'],
    // a change by half an hour
    ['2026-04-05T01:45', 'Australia/Lord_Howe', '2026-04-04T14:45:00.000Z'],
    ['2026-10-04T02:15', 'Australia/Lord_Howe', '2026-10-03T15:45:00.000Z'],
    // a day that Samoa left out when it crossed the date line
    ['2011-12-30T12:00', 'Pacific/Apia', '2011-12-30T22:00:00.000Z'],
    // the furthest from UTC that there are
    ['2026-06-01T00:00', 'Pacific/Kiritimati', '2026-05-31T10:00:00.000Z'],
    ['2026-06-01T00:00', 'Etc/GMT+12', '2026-06-01T12:00:00.000Z'],
  ])('%s in %s is %s', (local, zone, instant) => {
    expect(formatInstant(instantOfWall(wall(local), zone))).toBe(instant);
  });

  test('midnight reads as 00:00, and seconds are kept', () => {
    expect(wallOf(parseInstant('2026-07-01T04:00:07Z')!, NEW_YORK)).toEqual({
      ...wall('2026-07-01T00:00'),
      second: 7,
    });
    expect(clockText(parseInstant('2026-07-01T04:00:59.9Z')!, NEW_YORK)).toBe('00:00');
  });

  test('minutes past midnight may lie on the day after', () => {
    expect(formatInstant(instantOfMinutes(wall('2026-03-07T00:00'), 1440 + 150, NEW_YORK))).toBe(
      '2026-03-08T07:30:00.000Z',
    );
  });
});

test('2026-03-02 is a Monday and 2026-03-08 a Sunday', () => {
  expect([weekdayOf(parseDate('2026-03-02')!), weekdayOf(parseDate('2026-03-08')!)]).toEqual([1, 7]);
});

test('what is no day, no time of day or no zone is refused', () => {
  expect(['2026-02-29', '2026-13-01', '26-1-1', ''].map(parseDate)).toEqual([null, null, null, null]);
  expect(['24:00', '7:00', '12:60', 'noon'].map(parseClock)).toEqual([null, null, null, null]);
  expect(parseClock('23:59')).toBe(1439);
  expect([isZone('Mars/Olympus'), isZone(''), isZone(NEW_YORK)]).toEqual([false, false, true]);
});
