import { describe, expect, test } from 'vitest';
import { parseInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import type { UnitStanding } from '../../shared/inference/standing.ts';
import { changedQuery, eventHref, placeOf, siteHref, unitHref } from '../../web/src/address/place.ts';
import { readLook, sinceText } from '../../web/src/board/since.ts';
import { continued, spokenPieces, upToNow, type Piece } from '../../web/src/drawing/pieces.ts';
import { stripPaths } from '../../web/src/drawing/strip-paths.ts';
import { journal } from '../../web/src/event/journal.ts';
import { measureTables } from '../../web/src/event/measure-tables.ts';
import { frameOrder } from '../../web/src/net/frame-order.ts';
import { instantOfWall, wallText } from '../../web/src/page/wall-time.ts';
import { zoneNamed } from '../../web/src/page/zone.ts';
import { ageOf, readerOf } from '../../web/src/view/freshness.ts';
import type { EventView } from '../../web/src/view/site-view.ts';

const NOW: Instant = parseInstant('2026-03-03T20:07:32Z')!;
const at = (seconds: number): Instant => NOW + seconds * SECOND;
const zone = zoneNamed('America/Chicago');

describe('places', () => {
  test.each([
    ['/', { page: 'board' }],
    ['/rejected', { page: 'rejected' }],
    [siteHref('harrow-lane'), { page: 'site', site: 'harrow-lane' }],
    [unitHref('harrow-lane', 'room-7'), { page: 'unit', site: 'harrow-lane', unit: 'room-7' }],
    [eventHref('a/b'), { page: 'event', event: 'a/b' }],
    ['/sites/harrow-lane/replay', { page: 'replay', site: 'harrow-lane' }],
    ['/sites', { page: 'nowhere', path: '/sites' }],
    ['/sites/a/units/b/c', { page: 'nowhere', path: '/sites/a/units/b/c' }],
    ['/events/%', { page: 'event', event: '%' }],
  ])('%s', (path, place) => {
    expect(placeOf(path)).toEqual(place);
  });
  test('a word is changed, added or taken out of the query', () => {
    expect(changedQuery('?q=a&open=b', { q: 'c', open: null, state: 'running' })).toBe('?q=c&state=running');
    expect(changedQuery('?q=a', { q: '' })).toBe('');
  });
});

describe('frames', () => {
  const held = { epoch: 'a', revision: 7 };
  test.each([
    ['the next one', { epoch: 'a', after: 7, revision: 8 }, 'apply'],
    ['one that the fetched answer has', { epoch: 'a', after: 5, revision: 7 }, 'skip'],
    ['one that overlaps the fetched answer', { epoch: 'a', after: 6, revision: 9 }, 'apply'],
    ['one after a gap', { epoch: 'a', after: 8, revision: 9 }, 'fetch-again'],
    ['one of a new server process', { epoch: 'b', after: 0, revision: 1 }, 'fetch-again'],
  ] as const)('%s', (_, frame, order) => {
    expect(frameOrder(held, frame)).toBe(order);
  });
  test('before any answer, a frame waits for it', () => {
    expect(frameOrder(null, { epoch: 'a', after: 0, revision: 1 })).toBe('skip');
  });
});

describe('age of the data', () => {
  test('fifteen seconds are live, sixteen are not', () => {
    expect(ageOf(at(-15), NOW)).toEqual({ seconds: 15, frozen: false });
    expect(ageOf(at(-16), NOW)).toEqual({ seconds: 16, frozen: true });
    expect(ageOf(null, NOW)).toEqual({ seconds: null, frozen: true });
  });
  test('frozen, the reader’s time stands where the data stopped', () => {
    expect(readerOf(at(-60), NOW, zone).now).toBe(at(-60));
    expect(readerOf(at(-3), NOW, zone).now).toBe(NOW);
  });
});

describe('wall time', () => {
  // RFC 5545 §3.3.5: a time that occurs twice is its first; one that doesn't occur uses the offset before the gap
  test.each([
    ['2026-11-01T01:30:00', '2026-11-01T05:30:00Z'],
    ['2026-03-08T02:30:00', '2026-03-08T07:30:00Z'],
    ['2026-03-07T20:00:00', '2026-03-08T01:00:00Z'],
  ])('New York %s', (wall, utc) => {
    expect(instantOfWall(wall, zoneNamed('America/New_York'))).toBe(parseInstant(utc));
  });
  test('there and back', () => {
    expect(instantOfWall(wallText(NOW, zone), zone)).toBe(NOW);
    expect(wallText(NOW, zone)).toBe('2026-03-03T14:07:32');
    expect(instantOfWall('no time', zone)).toBeNull();
  });
  test('is written with its zone named', () => {
    expect(`${zone.day(NOW)}, ${zone.seconds(NOW)} ${zone.label(NOW)}`).toBe('Tue 3 Mar, 14:07:32 CST');
  });
  test('a zone that isn’t known reads as UTC and says so', () => {
    expect(zoneNamed('Nowhere/Else').label(NOW)).toBe('UTC');
  });
});

const standing = (over: Partial<UnitStanding>): UnitStanding => ({
  phase: 'ready',
  since: null,
  certainty: 'certain',
  cause: null,
  causeCertainty: null,
  pending: [],
  call: null,
  until: null,
  untilFrom: null,
  overdue: false,
  startsLastHour: 0,
  lastSeen: {},
  event: null,
  ...over,
});
const piece = (phase: Piece['phase'], from: number, to: number): Piece => ({
  phase,
  certainty: 'certain',
  from: at(from),
  to: at(to),
});

describe('strips', () => {
  test('the past ends where the standing begins', () => {
    const running = standing({ phase: 'running', since: exactly(at(-60)) });
    expect(upToNow([piece('off-delay', -300, -50)], running, NOW)).toEqual([
      piece('off-delay', -300, -60),
      piece('running', -60, 0),
    ]);
  });
  test('what a unit was becomes a piece when it changes', () => {
    const before = standing({ phase: 'running', since: exactly(at(-60)) });
    const after = standing({ phase: 'soft-lockout', since: exactly(at(-10)) });
    expect(continued([], before, after)).toEqual([piece('running', -60, -10)]);
    expect(continued([], before, before)).toEqual([]);
  });
  const frame = { now: NOW, width: 360, secondsPerPixel: 20 };
  test('are to scale: 210 s are ten and a half pixels', () => {
    expect(stripPaths([piece('off-delay', -210, 0)], frame).waiting).toBe('M349.5,6H360V17H349.5Z');
  });
  test('nothing abnormal vanishes: a loss of 0.3 s is two pixels wide', () => {
    expect(stripPaths([piece('no-power', -100.3, -100)], frame)['no-power']).toBe('M355,9H357');
  });
  test('what no piece covers is ready', () => {
    expect(stripPaths([], frame)).toEqual({ ready: 'M0,15H360V17H0Z' });
  });
  test('are read aloud', () => {
    expect(
      spokenPieces([piece('running', -9, -8), piece('soft-lockout', -8, -7), piece('running', -7, 0)]),
    ).toBe('ran 2 times, stopped by itself once');
    expect(spokenPieces([])).toBe('ready throughout');
  });
});

describe('since you last looked', () => {
  const event = (kind: EventView['kind'], over: boolean) =>
    ({ kind, end: over ? exactly(NOW) : null }) as EventView;
  test.each([
    [[], 'nothing out of the ordinary'],
    [[event('soft-lockout', true)], 'one soft lockout'],
    [
      [event('soft-lockout', true), event('soft-lockout', false), event('power-loss', true)],
      'one power loss; and 2 soft lockouts, 1 not over yet',
    ],
    [[event('hard-lockout', false)], 'one hard lockout, not over yet'],
    [[event('loss-of-cooling', true), event('loss-of-cooling', true)], '2 losses of cooling'],
    [[event('power-loss', true), event('power-loss', true)], '2 power losses'],
  ])('%#', (events, text) => {
    expect(sinceText(events, false)).toBe(text);
  });
  test('a look kept on this device counts only if it can be one', () => {
    expect(readLook(String(at(-60)), NOW)).toBe(at(-60));
    expect(readLook(String(at(60)), NOW)).toBeNull();
    expect(readLook('x', NOW)).toBeNull();
    expect(readLook(null, NOW)).toBeNull();
  });
});

describe('the journal', () => {
  const happened = (id: string, kind: EventView['kind'], seconds: number, unit = id): EventView =>
    ({
      id,
      kind,
      unit,
      cause: 'supply',
      certainty: 'certain',
      start: exactly(at(seconds)),
      end: exactly(NOW),
    }) as EventView;
  test('is newest first, by day, without ordinary runs unless they are asked for', () => {
    const events = [
      happened('a', 'soft-lockout', -90_000),
      happened('b', 'compressor-run', -60),
      happened('c', 'hard-lockout', -30),
    ];
    const days = journal(events, false, zone);
    expect(days.map(({ day, entries }) => [day, entries.map(({ id }) => id)])).toEqual([
      ['Tue 3 Mar', ['c']],
      ['Mon 2 Mar', ['a']],
    ]);
    expect(journal(events, true, zone)[0]!.entries.map(({ id }) => id)).toEqual(['c', 'b']);
  });
  test('tells as one what happened to three or more at once', () => {
    const outage = [1, 2, 3].map((n) => happened(`p${n}`, 'power-loss', -60 - n));
    const later = happened('q', 'power-loss', -20);
    const [day] = journal([...outage, later], false, zone);
    expect(day!.entries.map(({ events }) => events.length)).toEqual([1, 3]);
  });
});

test('measures of units and of neighbours become tables', () => {
  const tables = measureTables(
    {
      minimumSeparationSeconds: 2,
      'unit-6.plannedSeconds': 141,
      'unit-5.plannedSeconds': 138,
      'unit-5>unit-6.spacingSeconds': [2.8, 3.4],
      'unit-5.setBy': 'wait',
    },
    (device) => device.replace('unit-', 'Room '),
  );
  expect(tables.plain).toEqual([['minimum separation', '2 s']]);
  expect(tables.units).toEqual({
    columns: ['planned', 'set by'],
    rows: [
      { of: 'Room 5', cells: ['2:18', 'wait'] },
      { of: 'Room 6', cells: ['2:21', ''] },
    ],
  });
  expect(tables.neighbours!.rows).toEqual([{ of: 'Room 5 → Room 6', cells: ['2.8–3.4 s'] }]);
});
