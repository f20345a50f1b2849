import { describe, expect, test } from 'vitest';
import { announcedIn, type JournalLine } from '../../shared/alarms/performance/announced.ts';
import { measuresOf, type MeasureId } from '../../shared/alarms/performance/measures.ts';
import { floodsOf, shareInFlood, TEN_MINUTES } from '../../shared/alarms/performance/rates.ts';
import {
  chattering,
  contributors,
  fleeting,
  mostStaleInDay,
} from '../../shared/alarms/performance/repeats.ts';
import { askedOf } from '../../shared/alarms/performance/told.ts';
import { sourcesOf } from '../../shared/alarms/performance/sources.ts';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/** Check values of handbook 7: ISA-18.2-2016 and EEMUA 191, read in secondary texts. */
const START = 1_700_006_400; // a full ten minutes of the clock
const at = (second: number): Instant => seconds(START + second);
const stretch = { from: at(0), to: at(30 * 86_400) };
/** so many in each ten minutes, one after the other */
const pieces = (...counts: readonly number[]): Instant[] =>
  counts.flatMap((count, piece) => Array.from({ length: count }, (_, n) => at(piece * 600 + n * 20)));
const floods = (...counts: readonly number[]) =>
  floodsOf(pieces(...counts), stretch).map((flood) => [
    inSeconds(flood.from) - START,
    inSeconds(flood.to) - START,
    flood.count,
  ]);

describe('floods: more than ten in ten minutes, over with fewer than five', () => {
  test('14 in ten minutes after 11 is one flood', () => {
    expect(floods(11, 14)).toEqual([[0, 1200, 25]]);
    expect(floods(11, 14, 5, 4)).toEqual([[0, 1800, 30]]);
  });
  test('ten are none, eleven are one; five go on with it, four end it', () => {
    expect(floods(10, 10)).toEqual([]);
    expect(floods(11, 4)).toEqual([[0, 600, 11]]);
    expect(floods(11, 5, 4, 12)).toEqual([
      [0, 1200, 16],
      [1800, 2400, 12],
    ]);
    expect(floods(9, 0, 11, 10, 3, 11)).toEqual([
      [1200, 2400, 21],
      [3000, 3600, 11],
    ]);
  });
  test('under 1 % of 30 days is 43 of its 4,320 ten minutes', () => {
    const counts = (flooded: number) => pieces(...Array.from({ length: flooded }, () => 11));
    const share = (flooded: number) => shareInFlood(floodsOf(counts(flooded), stretch), stretch);
    expect(share(43)).toBeCloseTo(43 / 4320, 10);
    expect([share(43) < 0.01, share(44) < 0.01]).toEqual([true, false]);
    expect((stretch.to - stretch.from) / TEN_MINUTES).toBe(4320);
  });
});

const raised = (alarm: string, second: number, severity: JournalLine['severity'] = 'major'): JournalLine => ({
  alarm,
  key: `of-${alarm}`,
  what: 'raised-again',
  at: at(second),
  by: null,
  why: null,
  state: 'B',
  severity,
});
const line = (alarm: string, what: JournalLine['what'], second: number, more: Partial<JournalLine> = {}) => ({
  ...raised(alarm, second),
  what,
  state: null,
  ...more,
});

describe('alarms that tell too little', () => {
  const chatters = (...at: number[]) =>
    chattering(announcedIn(at.map((second) => raised('a', second)))).length;
  test('three within 60 s chatter, two don’t, three within 61 s don’t', () => {
    expect([chatters(0, 30, 60), chatters(0, 30), chatters(0, 30, 61)]).toEqual([3, 0, 0]);
    expect(chatters(0, 100, 110, 120, 300)).toBe(3);
  });
  test('shorter than 10 s is fleeting, 10 s isn’t', () => {
    const stood = (length: number) =>
      fleeting(announcedIn([raised('a', 0), line('a', 'returned', length)])).length;
    expect([stood(9.999), stood(10)]).toEqual([1, 0]);
  });
  test('in the list for more than 24 h is stale; one that is shelved meanwhile isn’t', () => {
    const most = (...lines: JournalLine[]) => mostStaleInDay(announcedIn(lines), stretch);
    expect(most(raised('a', 0), line('a', 'cleared', 86_400))).toBe(0);
    expect(most(raised('a', 0), line('a', 'cleared', 86_401))).toBe(1);
    expect(most(raised('a', -3 * 86_400), line('a', 'cleared', 10))).toBe(1);
    expect(most(raised('a', 0), line('a', 'shelved', 3600))).toBe(0);
    expect(most(...'abcde'.split('').map((name) => raised(name, 0)))).toBe(5);
  });
  test('the worst contributor comes first', () => {
    const lines = [raised('a', 0), raised('b', 5), raised('a', 10), raised('c', 20), raised('b', 30)];
    expect(contributors(announcedIn(lines)).map(({ key, count }) => [key, count])).toEqual([
      ['of-b', 2],
      ['of-a', 2],
      ['of-c', 1],
    ]);
  });
});

const measured = (lines: readonly JournalLine[], sources = 250) => {
  const all = measuresOf({ announced: announcedIn(lines), lines, stretch, sources });
  return (id: MeasureId) => all.find((one) => one.id === id)!;
};

describe('the measures of a stretch', () => {
  test('144 a day are 6 an hour and 1 in ten minutes, acceptable; twice that manageable, more is beyond', () => {
    const every = (length: number) =>
      Array.from({ length: Math.floor((30 * 86_400) / length) }, (_, n) => raised(`a${n}`, n * length));
    for (const [length, verdict] of [
      [600, 'within'],
      [300, 'manageable'],
      [299, 'beyond'],
    ] as const)
      for (const id of ['a-day', 'an-hour', 'ten-minutes'] as const)
        expect([length, id, measured(every(length))(id).verdict]).toEqual([length, id, verdict]);
    expect(measured(every(600))('a-day').value).toBe(144);
  });
  test('four stale on one day are within, five aren’t', () => {
    const some = (count: number) => Array.from({ length: count }, (_, n) => raised(`a${n}`, n));
    expect([measured(some(4))('stale').verdict, measured(some(5))('stale').verdict]).toEqual([
      'within',
      'beyond',
    ]);
    expect(measured(some(4))('stale').beside).toEqual({ now: 4 });
  });
  test('80 minor, 15 major and 5 critical read as their shares; an empty stretch has none', () => {
    const some = (count: number, severity: 'minor' | 'major' | 'critical') =>
      Array.from({ length: count }, (_, n) => raised(`${severity}${n}`, n * 700, severity));
    const all = [...some(80, 'minor'), ...some(15, 'major'), ...some(5, 'critical')];
    expect(measured(all)('severities').beside).toEqual({ minor: 0.8, major: 0.15, critical: 0.05 });
    expect(measured([])('severities').value).toBeNull();
  });
  test('the share of the worst ten isn’t told below 200 alarm sources', () => {
    const lines = Array.from({ length: 20 }, (_, n) => raised(`a${n}`, n * 700));
    expect([measured(lines, 199)('worst-ten').value, measured(lines, 200)('worst-ten').value]).toEqual([
      null,
      0.5,
    ]);
  });
  test('what is explained, shelved or out of service asks nobody and is counted beside; without a reason it is unauthorised', () => {
    const lines: JournalLine[] = [
      { ...raised('child', 0), what: 'raised', state: 'H' },
      raised('root', 0),
      line('root', 'acknowledged', 90, { by: 'Ada', state: 'C' }),
      line('root', 'shelved', 100, { by: 'Ada', why: 'part on order', state: 'G' }),
      line('root', 'shelf-ended', 200, { state: 'B' }),
      { ...raised('root', 200), what: 'raised' },
      line('root', 'taken-out-of-service', 300, { by: 'Ada', why: null, state: 'I' }),
    ];
    const measure = measured(lines);
    expect(measure('a-day').leans.map(({ alarm }) => alarm)).toEqual(['root', 'root']);
    for (const [id, value, now] of [
      ['suppressed', 1, 1],
      ['shelved', 1, 0],
      ['out-of-service', 1, 1],
    ] as const)
      expect([id, measure(id).value, measure(id).beside['now']]).toEqual([id, value, now]);
    expect([measure('unauthorised').value, measure('unauthorised').verdict]).toEqual([1, 'beyond']);
    expect([measure('to-accept').value, measure('to-accept').beside]).toEqual([
      90,
      { longest: 90, accepted: 1, never: 1 },
    ]);
  });
});

test('a person is asked once for each announcement, however often the message is repeated', () => {
  const announced = announcedIn([
    raised('a', 0),
    line('a', 'acknowledged', 400, { by: 'Ada', state: 'C' }),
    line('a', 'cleared', 500, { state: 'A' }),
    raised('a', 1000),
    raised('b', 1100),
  ]);
  const askings = [1, 301, 1001, 1301].map((second) => ({ alarm: 'a', at: at(second) }));
  const asked = askedOf(announced, askings, 'Ada');
  expect(asked.map((one) => [one.alarm, inSeconds(one.at) - START, one.acceptedAt])).toEqual([
    ['a', 1, at(400)],
    ['a', 1001, null],
  ]);
  expect(askedOf(announced, askings, 'Ben').map(({ acceptedAt }) => acceptedAt)).toEqual([null, null]);
});

test('a shelter with 12 units in one room on one panel has 12 × 8 + 5 + 1 + 1 alarm sources', () => {
  const parsed = parseConfiguration('oak', {
    timeZone: 'UTC',
    gateways: [{ id: 'gateway' }],
    panels: [{ id: 'panel-a' }],
    spaces: [{ id: 'shelter' }],
    units: Array.from({ length: 12 }, (_, n) => ({ id: `unit-${n}`, panel: 'panel-a', space: 'shelter' })),
  });
  if (!parsed.ok) throw new Error('faults');
  expect(sourcesOf(parsed.site)).toBe(103);
});
