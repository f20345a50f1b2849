import { describe, expect, test } from 'vitest';
import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { dueDigest, USUAL_DIGEST } from '../../shared/people/digest.ts';
import { digestText, type DigestFacts, type DigestLine } from '../../shared/wire/digest-text.ts';

/** When the morning digest is due, and what it says. Times at changes of the clocks: RFC 5545 section 3.3.5. */
const at = (text: string): Instant => parseInstant(text)!;
const newYork = (atMinutes: number) => ({ ...USUAL_DIGEST, atMinutes, zone: 'America/New_York' });

describe('due once a local day', () => {
  const due = (minutes: number, now: string, last: string | null = null) =>
    dueDigest(newYork(minutes), last, at(now));
  test('at its time on the wall, summer and winter', () => {
    expect(due(420, '2026-07-01T10:59:59Z')).toBeNull();
    expect(due(420, '2026-07-01T11:00:00Z')).toMatchObject({ day: '2026-07-01', isLate: false });
    expect(due(420, '2026-01-15T11:59:59Z')).toBeNull();
    expect(due(420, '2026-01-15T12:00:00Z')).toMatchObject({ day: '2026-01-15' });
  });
  test('01:30 occurs twice on 2026-11-01: the first counts (05:30Z), and the second brings none', () => {
    expect(due(90, '2026-11-01T05:29:59Z')).toBeNull();
    expect(due(90, '2026-11-01T05:30:00Z')).toMatchObject({ day: '2026-11-01' });
    expect(due(90, '2026-11-01T06:30:00Z', '2026-11-01')).toBeNull();
  });
  test('02:30 doesn’t occur on 2026-03-08: by the offset before the gap it is 07:30Z', () => {
    expect(due(150, '2026-03-08T07:29:59Z')).toBeNull();
    expect(due(150, '2026-03-08T07:30:00Z')).toMatchObject({ day: '2026-03-08' });
  });
  test('each day from spring to autumn has exactly one, looked at every half an hour', () => {
    let last: string | null = null;
    const days: string[] = [];
    for (let now = at('2026-02-28T12:00:00Z'); now < at('2026-11-10T12:00:00Z'); now += seconds(1800)) {
      const found = dueDigest(newYork(150), last, now);
      if (!found) continue;
      days.push((last = found.day));
    }
    // 28 February is under way when it begins; 1 March to 10 November are 255 days
    expect([days.length, new Set(days).size, days[0], days.at(-1)]).toEqual([
      256,
      256,
      '2026-02-28',
      '2026-11-10',
    ]);
  });
  test('after an outage today’s alone is due, and one more than six hours late is passed over', () => {
    expect(due(420, '2026-07-05T15:00:00Z', '2026-07-01')).toMatchObject({
      day: '2026-07-05',
      isLate: false,
    });
    expect(due(420, '2026-07-05T17:00:01Z', '2026-07-01')).toMatchObject({ isLate: true });
  });
  test('weekly on its weekday; off is off', () => {
    expect(due(420, '2026-07-06T12:00:00Z')).toMatchObject({ isWeekly: true });
    expect(due(420, '2026-07-07T12:00:00Z')).toMatchObject({ isWeekly: false });
    expect(dueDigest({ ...newYork(420), isOn: false }, null, at('2026-07-06T12:00:00Z'))).toBeNull();
  });
});

const line = (says: string, more: Partial<DigestLine> = {}): DigestLine => ({
  severity: 'major',
  site: 'Pine Ridge',
  says,
  since: at('2026-07-06T07:38:00Z'),
  owner: null,
  zone: 'America/New_York',
  ...more,
});
const facts: DigestFacts = {
  isWeekly: false,
  now: at('2026-07-06T11:00:00Z'),
  since: at('2026-07-05T11:00:00Z'),
  zone: 'America/New_York',
  sites: 12,
  tasks: 0,
  waiting: [],
  yours: [],
  others: [],
  over: [],
  url: 'https://holdoff.example.org/alarms',
};

describe('what it says', () => {
  test('what waited, what is yours, what others have, what came and went', () => {
    const { subject, text } = digestText({
      ...facts,
      tasks: 3,
      waiting: [line('U2: Hard lockout, high pressure; held back by night')],
      yours: [line('U7: Failed start', { severity: 'critical', owner: 'ann' })],
      others: [line('Gateway silent', { owner: 'ben', site: 'Oak Street' })],
      over: [line('Panel A: Without power')],
    });
    expect(subject).toBe('2026-07-06: 1 waiting, 1 yours, 1 over');
    expect(text).toBe(
      [
        'Nobody has taken these yet:',
        '  ▲ Pine Ridge, U2: Hard lockout, high pressure; held back by night (since 2026-07-06 03:38)',
        '',
        'Still yours until you close them:',
        '  ◆ Pine Ridge, U7: Failed start (since 2026-07-06 03:38; ann has it)',
        '',
        'Others have these:',
        '  ▲ Oak Street, Gateway silent (since 2026-07-06 03:38; ben has it)',
        '',
        'Came and went since 2026-07-05 07:00; nothing is to be done about them:',
        '  ▲ Pine Ridge, Panel A: Without power (since 2026-07-06 03:38)',
        '',
        '3 tasks for a working day.',
        '12 sites in your scope.',
        '',
        'https://holdoff.example.org/alarms',
        '',
      ].join('\n'),
    );
  });
  test('all quiet, weekly: it says why it comes', () => {
    expect(digestText({ ...facts, isWeekly: true })).toEqual({
      subject: 'All quiet, 2026-07-06',
      text: [
        'No alarm at your 12 sites since 2026-07-05 07:00.',
        'This comes every week, also when all is quiet: it shows that messages reach you.',
        '',
        'https://holdoff.example.org/alarms',
        '',
      ].join('\n'),
    });
  });
  test('a long list is cut, and says how much', () => {
    const { text } = digestText({ ...facts, waiting: Array.from({ length: 25 }, (_, n) => line(`U${n}`)) });
    expect(text).toContain('  and 5 more');
  });
});
