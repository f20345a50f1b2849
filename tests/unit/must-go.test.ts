import { describe, expect, test } from 'vitest';
import { formatInstant, parseInstant } from '../../shared/base/instant.ts';
import type { Severity } from '../../shared/alarms/severity.ts';
import { mustGo, ORDINARY_NIGHT, type NeedsBy } from '../../shared/people/must-go.ts';

/** Handbook 7, "must I go now?": night is 22:00–07:00 unless set otherwise. */
const night = { zone: 'America/New_York', ...ORDINARY_NIGHT };
const at = (clock: string, date = '2026-06-10') => parseInstant(`${date}T${clock}:00-04:00`)!;

const SOON: NeedsBy = { kind: 'by', earliest: at('03:20'), says: '35 °C between 03:20 and 03:40' };
const NOON: NeedsBy = { kind: 'by', earliest: at('12:00'), says: '35 °C between 12:00 and 13:10' };
const CARRIED: NeedsBy = {
  kind: 'not-needed',
  says: 'over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it',
};
const UNKNOWN: NeedsBy = { kind: 'not-known', says: 'no room temperature' };

describe('by night', () => {
  test.each<[Severity, NeedsBy, string | null, string]>([
    ['critical', SOON, null, 'Go now: 35 °C between 03:20 and 03:40.'],
    ['critical', CARRIED, null, `Go now: ${CARRIED.says}.`],
    ['critical', UNKNOWN, null, 'Go now: how long there is can’t be told (no room temperature).'],
    ['major', SOON, null, 'Go now: 35 °C between 03:20 and 03:40.'],
    ['major', UNKNOWN, null, 'Can’t be told: no room temperature.'],
    [
      'major',
      CARRIED,
      '07:00',
      'Can wait until 07:00: over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.',
    ],
    ['major', NOON, '07:00', 'Can wait until 07:00: 35 °C between 12:00 and 13:10.'],
    ['minor', SOON, '07:00', 'Go now: 35 °C between 03:20 and 03:40.'],
    ['minor', UNKNOWN, '07:00', 'Can’t be told: no room temperature.'],
  ])('%s, %o: held until %s', (severity, needsBy, held, says) => {
    const urgency = mustGo(severity, needsBy, night, at('02:38'));
    expect(urgency.says).toBe(says);
    expect(urgency.heldUntil).toBe(held === null ? null : at(held));
  });
});

test.each([
  ['21:59', false],
  ['22:00', true],
  ['06:59', true],
  ['07:00', false],
])('at %s a major one that can wait is held: %s', (clock, held) => {
  expect(mustGo('major', CARRIED, night, at(clock)).heldUntil !== null).toBe(held);
});

test('before midnight it is held until the morning after, across a change of the clocks too', () => {
  const held = mustGo('major', CARRIED, night, parseInstant('2026-03-07T23:00:00-05:00')!).heldUntil!;
  expect(formatInstant(held)).toBe('2026-03-08T11:00:00.000Z');
});

test('by day nothing is held, and the morning that is meant is the next one', () => {
  expect(mustGo('minor', CARRIED, night, at('10:00'))).toEqual({
    answer: 'can-wait',
    says: `Can wait until 07:00: ${CARRIED.says}.`,
    heldUntil: null,
  });
  expect(mustGo('major', NOON, night, at('10:00')).answer).toBe('go-now');
});

test('a site that wants to be told at once is', () => {
  expect(mustGo('minor', CARRIED, { ...night, alwaysAtOnce: true }, at('02:38')).heldUntil).toBe(null);
});

test('a night of no length is none', () => {
  expect(mustGo('minor', CARRIED, { ...night, from: 420, to: 420 }, at('02:38')).heldUntil).toBe(null);
});
