import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';
import { tellStory, wired as unit, type Story } from './run.ts';

/**
 * What can't be certain because something that is wired was not known then, and may yet be told: a pressure switch that
 * fell silent, a line voltage read too seldom, a unit out of sight when power came back (handbook 3, "Known through").
 */
const METER = { signal: 'line-voltage', reporting: { mode: 'polled', seconds: 20 } };
const ELSEWHERE = { gateway: 'gateway', signal: 'utility-failed' };
const line = (from: number, to: number) =>
  Array.from({ length: (to - from) / 20 + 1 }, (_, i) => `${from + i * 20}: panel-a line-voltage 240`);

const STORIES: readonly Story[] = [
  {
    name: 'three seconds between two readings of the line, which the utility contact saw: the supply',
    about: 'panel-a',
    site: {
      panels: [{ id: 'panel-a', points: [METER, ELSEWHERE] }],
      units: [unit('unit-1'), unit('unit-2')],
    },
    losses: true,
    happens: [
      ...line(0, 200),
      '0: panel-a utility-failed 0',
      '109: panel-a utility-failed 1',
      '109: unit-1 loses power',
      '112: panel-a utility-failed 0',
      '112: unit-1 has power again',
    ],
    facts: ['unit-1 power-loss supply 109–112 certain/certain'],
  },
  {
    name: 'a unit that was out of sight when power came back, and again later: its restart may have been missed',
    about: 'panel-a',
    site: {
      panels: [{ id: 'panel-a', points: [{ ...METER, reporting: { mode: 'on-change' } }] }],
      units: [unit('unit-1'), unit('unit-2')],
    },
    happens: [
      '-60: unit-2 is silent',
      '0: panel-a line-voltage 240',
      '10: panel-a line-voltage 0',
      '10: unit-1 loses power',
      '50: panel-a line-voltage 240',
      '50: unit-1 has power again',
      '50: unit-1 is called',
      '100: unit-2 is heard running',
      '191: unit-1 starts',
      '200: unit-2 is silent',
    ],
    facts: ['restart-sequence 50–191 probable: unit-1'],
  },
];

describe('what was not known', () => {
  for (const story of STORIES) tellStory(story);

  it('control voltage dips as the output goes off, but the low-pressure switch has been silent: probably a hold', () => {
    const low = { ...wired.LOW, reporting: { mode: 'polled', seconds: 20 } };
    const site = wired.oneUnit([wired.CALL, wired.OUTPUT, wired.HIGH, low, wired.VOLTAGE]);
    const told = (silentFrom: number) => {
      const sent: [number, string, number][] = [
        [0, 'cooling-call', 0],
        [0, 'compressor-output', 0],
        [0, 'high-pressure', 1],
        [0, 'control-voltage', 26],
        [100, 'cooling-call', 1],
        [100, 'compressor-output', 1],
        [500, 'control-voltage', 16],
        [500, 'compressor-output', 0],
        [501, 'control-voltage', 26],
      ];
      for (let t = 0; t < silentFrom; t += 20) sent.push([t, 'low-pressure', 1]);
      const rows: Row[] = sent.map(([t, signal, value]) => ({
        key: `unit-1/${signal}`,
        t: seconds(t),
        value,
      }));
      for (let t = 0; t <= 600; t += 10) rows.push({ key: 'gateway/life', t: seconds(t), value: 1 });
      const { events } = foldOnce({
        fold: unitFold,
        history: [{ from: -Infinity, site }],
        subject: { kind: 'unit', site: site.id, device: 'unit-1' },
        rows,
        watch: { spans: [{ from: 0, to: seconds(600) }] },
      });
      return events.filter(({ kind }) => kind === 'undervoltage-hold').map(wired.told);
    };
    expect(told(600)).toEqual(['undervoltage-hold 500–… certain']);
    expect(told(400)).toEqual(['undervoltage-hold 500–… probable']);
  });
});
