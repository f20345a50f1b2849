import { describe, expect, test } from 'vitest';
import { formatInstant, inSeconds, parseInstant } from '../../shared/base/instant.ts';
import { calendarOf, parseHolidays } from '../../shared/people/icalendar.ts';
import { gapsOf, onCallAt, personAt, swapOf, turnsOf } from '../../shared/people/on-call.ts';
import type { Override, Turn } from '../../shared/people/roster.ts';
import { clock, day, layer, roster } from '../fixtures/roster.ts';

const at = (text: string) => parseInstant(text)!;
const hours = (turn: Turn) => inSeconds(turn.to - turn.from) / 3600;
const EVERY_DAY = [1, 2, 3, 4, 5, 6, 7];
const nights = { weekdays: EVERY_DAY, from: clock('20:00'), to: clock('08:00') };

describe('shifts across a change of the clocks', () => {
  // handbook 9, computed: night shift 20:00–08:00 New York on 2026-03-07 → 11 h; 2026-10-31 → 13 h
  test.each([
    ['2026-03-07T17:00:00-05:00', 11],
    ['2026-10-31T17:00:00-04:00', 13],
    ['2026-06-10T17:00:00-04:00', 12],
  ])('the night shift that begins on %s lasts %i h', (afternoon, length) => {
    const night = roster([layer({ people: ['ann'], hours: nights })]);
    const shift = turnsOf(night, [], at(afternoon), at(afternoon) + 86_400e6)[1]!;
    expect([shift.person, hours(shift)]).toEqual(['ann', length]);
  });

  // handbook 7: weeks at DST changes last 167 and 169 h
  test.each([
    ['2026-03-02T08:00:00-05:00', 167],
    ['2026-10-26T08:00:00-04:00', 169],
    ['2026-06-01T08:00:00-04:00', 168],
  ])('the week from %s lasts %i h', (from, length) => {
    const week = turnsOf(roster([layer()]), [], at(from), at(from) + 15 * 86_400e6)[0]!;
    expect(hours(week)).toBe(length);
  });
});

describe('who is on', () => {
  const weekly = roster([layer()]);

  test('people take turns, half-open: at the hand-over it is the next', () => {
    expect(personAt(weekly, [], at('2026-01-12T12:59:59.999999Z'))).toBe('ann');
    expect(personAt(weekly, [], at('2026-01-12T13:00:00Z'))).toBe('ben');
    expect(onCallAt(weekly, [], at('2026-01-12T13:00:00Z'))).toEqual({
      person: 'ben',
      until: at('2026-01-19T13:00:00Z'),
      next: 'ann',
    });
  });

  test('before the first hand-over nobody is, and that is a gap', () => {
    const turns = turnsOf(weekly, [], at('2026-01-05T00:00:00Z'), at('2026-01-06T00:00:00Z'));
    expect(gapsOf(turns).map(({ from, to }) => [formatInstant(from), formatInstant(to)])).toEqual([
      ['2026-01-05T00:00:00.000Z', '2026-01-05T13:00:00.000Z'],
    ]);
  });

  test('the upper layer counts within its hours, the lower one outside them', () => {
    const both = roster([
      layer({ name: 'always', people: ['zoe'] }),
      layer({ name: 'nights', hours: { ...nights, weekdays: [1, 2, 3, 4, 5] } }),
    ]);
    expect(personAt(both, [], at('2026-06-10T12:00:00-04:00'))).toBe('zoe');
    // 154 days after the first hand-over: the 23rd week, which is the first one's again
    expect(personAt(both, [], at('2026-06-10T21:00:00-04:00'))).toBe('ann');
    // Saturday 07:00 still belongs to the night that began on Friday; Saturday's own night isn't in the list
    expect(personAt(both, [], at('2026-06-13T07:00:00-04:00'))).toBe('ann');
    expect(personAt(both, [], at('2026-06-13T21:00:00-04:00'))).toBe('zoe');
  });

  test('on holidays a layer may stand back, and another hold on those alone', () => {
    const holidays = [day('2026-11-26')];
    const plain = layer({ name: 'plain', people: ['ann'], holidays: 'not' });
    const duty = layer({ name: 'holiday duty', people: ['hal'], holidays: 'only' });
    expect(personAt(roster([plain], { holidays }), [], at('2026-11-26T12:00:00-05:00'))).toBe(null);
    const both = roster([plain, duty], { holidays });
    expect(personAt(both, [], at('2026-11-26T00:00:00-05:00'))).toBe('hal');
    expect(personAt(both, [], at('2026-11-27T00:00:00-05:00'))).toBe('ann');
  });

  test('a layer that has ended has nobody from its last hand-over on', () => {
    const ended = roster([layer({ endsOn: day('2026-02-02') })]);
    expect(personAt(ended, [], at('2026-02-02T07:59:00-05:00'))).toBe('ben');
    expect(personAt(ended, [], at('2026-02-02T08:00:00-05:00'))).toBe(null);
  });

  const stand = (id: string, person: string, madeAt: number): Override => ({
    id,
    person,
    from: at('2026-06-10T18:00:00Z'),
    to: at('2026-06-11T02:00:00Z'),
    madeAt,
  });

  test('an override lies on top; of two the one made later counts, in whatever order they are read', () => {
    const two = [stand('a', 'cid', 2), stand('b', 'dot', 1)];
    expect(personAt(weekly, two, at('2026-06-10T20:00:00Z'))).toBe('cid');
    expect(personAt(weekly, two.toReversed(), at('2026-06-10T20:00:00Z'))).toBe('cid');
    expect(personAt(weekly, two, at('2026-06-11T02:00:00Z'))).toBe('ann');
  });

  test('a swap gives each the other’s turn, across a change of the clocks too', () => {
    const [spring, after] = turnsOf(
      weekly,
      [],
      at('2026-03-02T08:00:00-05:00'),
      at('2026-03-16T08:00:00-04:00'),
    );
    const halves = swapOf(spring!, after!)!;
    const overrides = halves.map((half, n) => ({ ...half, id: String(n), madeAt: 1 }));
    const swapped = turnsOf(weekly, overrides, spring!.from, after!.to);
    expect(swapped.map(({ person }) => person)).toEqual([after!.person, spring!.person]);
    expect(swapped.map(hours)).toEqual([167, 168]);
    expect(swapOf(spring!, spring!)).toBe(null);
    expect(swapOf(spring!, { ...after!, person: null })).toBe(null);
  });
});

describe('as a calendar (RFC 5545)', () => {
  const names = {
    roster: 'Field; north, and “très loin” – a name that is longer than what one line may hold',
    person: (id: string | null) => id ?? 'Nobody',
    madeAt: at('2026-01-01T00:00:00.5Z'),
  };
  const turns = turnsOf(
    roster([layer()]),
    [],
    at('2026-03-02T08:00:00-05:00'),
    at('2026-03-16T08:00:00-04:00'),
  );
  const text = calendarOf(turns, names);

  test('turns leave in UTC, each with a lasting id', () => {
    expect(text).toContain('DTSTART:20260302T130000Z\r\nDTEND:20260309T120000Z\r\n');
    expect(text).toContain('DTSTAMP:20260101T000000Z');
    expect(new Set(text.match(/UID:.*/g)).size).toBe(2);
    expect(calendarOf(turns, { ...names, madeAt: 0 }).match(/UID:.*/g)).toEqual(text.match(/UID:.*/g));
  });

  test('no line is longer than 75 octets, and what was folded reads again', () => {
    const lines = text.split('\r\n');
    expect(Math.max(...lines.map((line) => Buffer.byteLength(line)))).toBeLessThanOrEqual(75);
    expect(text.replace(/\r\n /g, '')).toContain(
      'X-WR-CALNAME:Field\\; north\\, and “très loin” – a name that is longer than what one line may hold\r\n',
    );
  });

  test('all-day entries are holidays; timed ones aren’t', () => {
    const file = [
      'BEGIN:VCALENDAR',
      'BEGIN:VEVENT',
      'SUMMARY:Thanksgiving',
      'DTSTART;VALUE=DATE:20261126',
      'DTEND;VALUE=DATE:20261128',
      'END:VEVENT',
      'BEGIN:VEVENT',
      'DTSTART:20261201T090000Z',
      'END:VEVENT',
      'BEGIN:VEVENT',
      'DTSTART;VALUE=DATE:2026',
      ' 1225',
      'END:VEVENT',
      'END:VCALENDAR',
    ].join('\r\n');
    expect(parseHolidays(file)).toEqual({
      ok: true,
      days: ['2026-11-26', '2026-11-27', '2026-12-25'].map(day),
    });
  });

  test('what isn’t understood is refused in words', () => {
    expect(parseHolidays('hello')).toEqual({
      ok: false,
      says: 'This is no iCalendar file: it doesn’t have BEGIN:VCALENDAR.',
    });
    const rule =
      'BEGIN:VCALENDAR\nBEGIN:VEVENT\nSUMMARY:New Year\nDTSTART;VALUE=DATE:20260101\nRRULE:FREQ=YEARLY\nEND:VEVENT\nEND:VCALENDAR';
    expect(parseHolidays(rule)).toEqual({
      ok: false,
      says: '“New Year” repeats by a rule. Give a file with each day written out.',
    });
  });
});
