import { describe, expect, test } from 'vitest';
import { aloud, spokenNotice, spokenTime } from '../../shared/wire/spoken-notice.ts';
import { LOCKOUT_FACTS } from '../fixtures/notice-facts.ts';

/** What a machine reads to somebody on the telephone. */
const { needsBy: _needsBy, ...told } = LOCKOUT_FACTS;
const facts = (says: string, answer: 'go-now' | 'can-wait' | 'not-known') => ({
  ...told,
  severity: 'major' as const,
  urgency: { answer, says, heldUntil: null },
});
const WAITS =
  'Can wait until 07:00: over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.';

describe('times', () => {
  test.each([
    [0, 0, 'midnight'],
    [24, 0, 'midnight'],
    [0, 5, 'five past midnight'],
    [2, 38, 'two thirty-eight in the morning'],
    [7, 0, 'seven o’clock in the morning'],
    [11, 59, 'eleven fifty-nine in the morning'],
    [12, 0, 'noon'],
    [12, 1, 'twelve oh one in the afternoon'],
    [14, 20, 'two twenty in the afternoon'],
    [23, 19, 'eleven nineteen in the evening'],
  ])('%d:%d', (hour, minute, words) => {
    expect(spokenTime(hour, minute)).toBe(words);
  });
});

test.each([
  ['35 °C', '35 degrees Celsius'],
  ['-4.5 °C', 'minus 4 point 5 degrees Celsius'],
  ['a run fraction of 0.55 in 3 h, 10 min', 'a run fraction of 0 point 5 5 in 3 hours, 10 minutes'],
  ['U2 & RTU-12 <b>', 'U 2 RTU-12 b'],
  ['can’t be told', 'cannot be told'],
  ['see https://h.example/a/1-x now', 'see now'],
])('%s', (text, said) => {
  expect(aloud([text])).toBe(said);
});

test('what can wait is said without its reckoning', () => {
  const text = spokenNotice(facts(WAITS, 'can-wait'), 'page');
  expect(text).toContain('Can wait until seven o’clock in the morning.');
  expect(text).not.toContain('fraction');
});

test.each(['page', 'again', 'worse', 'cleared', 'taken', 'exhausted', 'alone-on-site'] as const)(
  '%s: short sentences, nothing that a machine spells out',
  (reason) => {
    const text = spokenNotice(facts('Can’t be told: no room temperature.', 'not-known'), reason);
    expect(text).not.toMatch(/https?:|[°/<>&()]|\d\d:\d\d/);
    for (const sentence of text.split('. ')) expect(sentence.split(' ').length).toBeLessThanOrEqual(20);
    // who has only half listened hears it once more
    expect(text.match(/Pine Ridge, U 2: Hard lockout, probably high pressure/g)).toHaveLength(2);
  },
);
