import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';
import { fact, foldStory, wired as wiredUnit } from './run.ts';

/**
 * Weak cooling (handbook 4 rule 12; its figures from memory): by air temperatures, polled each 30 s, and without them by the
 * room's own, polled each minute. Times are seconds.
 */
const AIR = ['supply-air-temperature', 'return-air-temperature'].map((signal) => ({
  signal,
  reporting: { mode: 'polled', seconds: 30 },
}));

interface Seen {
  readonly run: readonly [from: number, to: number];
  /** by how much the return air was warmer, at a second */
  readonly difference: (t: number) => number | null;
  readonly unit?: object;
  readonly until?: number;
}

function told({ run, difference, unit, until = 2400 }: Seen): string[] {
  const site = wired.oneUnit([wired.CALL, wired.OUTPUT, ...AIR], {}, unit);
  const rows: Row[] = [];
  for (const [t, value] of [
    [-100, 0],
    [run[0], 1],
    [run[1], 0],
  ] as const)
    for (const signal of ['cooling-call', 'compressor-output'])
      if (t <= until) rows.push({ key: `unit-1/${signal}`, t: seconds(t), value });
  for (let t = -90; t <= until; t += 30) {
    const by = difference(t);
    rows.push({ key: 'gateway/life', t: seconds(t), value: 1 });
    if (by === null) continue;
    rows.push({ key: 'unit-1/return-air-temperature', t: seconds(t), value: 25 });
    rows.push({ key: 'unit-1/supply-air-temperature', t: seconds(t), value: 25 - by });
  }
  const { events } = foldOnce({
    fold: unitFold,
    history: [{ from: -Infinity, site }],
    subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
    rows,
    watch: { spans: [{ from: seconds(-100), to: seconds(until) }] },
    now: seconds(until),
  });
  return events.filter(({ kind }) => kind === 'weak-cooling').map(wired.told);
}

const running = (by: number) => (t: number) => (t > 120 ? by : 0);

describe('weak cooling by air temperatures', () => {
  it('a run that cools its air by 9 K is well, though it took two minutes to', () => {
    expect(told({ run: [0, 1800], difference: running(9) })).toEqual([]);
  });

  it('3 K through a run of half an hour: weak from its start to its end', () => {
    expect(told({ run: [0, 1800], difference: running(3) })).toEqual([
      'weak-cooling air-difference 0–1800 certain',
    ]);
  });

  it('less than 5 K, and 5 K is not less', () => {
    expect(told({ run: [0, 1800], difference: () => 4.99 })).toHaveLength(1);
    expect(told({ run: [0, 1800], difference: () => 5 })).toEqual([]);
  });

  it('a run of 9 min and 50 s is too short to say', () => {
    expect(told({ run: [0, 590], difference: running(3) })).toEqual([]);
  });

  it('it goes weak in the middle: five minutes of that are needed', () => {
    const after = (seconds: number) => (t: number) => (t > 900 && t <= 900 + seconds ? 2 : 9);
    expect(told({ run: [0, 1800], difference: after(290) })).toEqual([]);
    expect(told({ run: [0, 1800], difference: after(420) })).toEqual([
      'weak-cooling air-difference 915–1335 certain',
    ]);
  });

  it('it recovers within the run: the event ends with that', () => {
    expect(told({ run: [0, 1800], difference: (t) => (t > 1200 ? 9 : 2) })).toEqual([
      'weak-cooling air-difference 0–1215 certain',
    ]);
  });

  it('while it lasts it is open', () => {
    expect(told({ run: [0, 9000], difference: running(3), until: 1500 })).toEqual([
      'weak-cooling air-difference 0–… certain',
    ]);
  });

  it('the thermometers fall silent before it has lasted: nothing is said', () => {
    expect(told({ run: [0, 1800], difference: (t) => (t > 400 ? null : 2) })).toEqual([]);
  });

  it('a heat pump that heats turns the difference around; little either way is possible weakness', () => {
    const unit = { equipment: 'heat-pump' };
    expect(told({ run: [0, 1800], difference: running(-12), unit })).toEqual([]);
    expect(told({ run: [0, 1800], difference: running(1), unit })).toEqual([
      'weak-cooling air-difference 0–1800 possible',
    ]);
  });
});

describe('weak cooling without air temperatures', () => {
  const rising = (perHour: number, unit: object = {}, stop = 3000) =>
    foldStory({
      name: '',
      about: 'room',
      site: {
        panels: [{ id: 'panel-a' }],
        spaces: [
          {
            id: 'room',
            points: [{ signal: 'space-temperature', reporting: { mode: 'polled', seconds: 60 } }],
          },
        ],
        units: [wiredUnit('unit-1', { space: 'room', ...unit })],
      },
      happens: [
        '0: unit-1 starts',
        `${stop}: unit-1 stops`,
        ...Array.from(
          { length: 60 },
          (_, i) => `${i * 60 + 5}: room space-temperature ${(25 + (perHour * i) / 60).toFixed(3)}`,
        ),
      ],
      facts: [],
      readAt: 3550,
    }).events.map(fact);

  it('the room is warmer by 1 K half an hour into the run: possible, for a hot day does the same', () => {
    expect(rising(2.4)).toEqual(['unit-1 weak-cooling temperature-rising 0–3000 possible']);
  });

  it('a rise of 1.2 K/h is only 1 K after 50 min, when the run is over: nothing', () => {
    expect(rising(1.2, {}, 2900)).toEqual([]);
  });

  it('a run that is over after 25 min says nothing', () => {
    expect(rising(6, {}, 1500)).toEqual([]);
  });

  it('a heat pump may be heating, and a drying unit isn’t there to cool', () => {
    expect(rising(3, { equipment: 'heat-pump' })).toEqual([]);
    expect(rising(3, { dehumidification: true })).toEqual([]);
  });

  it('the difference of its air tells more, where both temperatures are wired', () => {
    const points = [{ signal: 'compressor-output' }, ...AIR];
    expect(rising(3, { points })).toEqual([]);
  });
});
