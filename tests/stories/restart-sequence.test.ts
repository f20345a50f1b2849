import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/**
 * Who restarted when after a power return (handbook 5.3). Power-up delay: 120 s and a tenth of the off-cycle delay
 * (handbook 2.1): 141 s at 210 s, 144 s at 240 s. Measures count from the power's return.
 */
const PANEL = { id: 'panel-a', minimumStartSeparation: 2 };
const slower = { protection: { offDelay: 240 } };
const TWO = { panels: [PANEL], units: [wired('unit-1'), wired('unit-2', slower)] };
const outage = (from: number, to: number, ...units: string[]) => [
  ...units.map((unit) => `${from}: ${unit} loses power`),
  ...units.map((unit) => `${to}: ${unit} has power again`),
];
const called = (at: number, ...units: string[]) => units.map((unit) => `${at}: ${unit} is called`);
const noCall = (id: string) =>
  wired(id, {
    points: [
      { signal: 'compressor-output' },
      { signal: 'control-voltage', reporting: { mode: 'on-change' } },
    ],
  });
const polledOutput = (id: string, more = {}) =>
  wired(id, {
    points: [
      { signal: 'cooling-call' },
      { signal: 'compressor-output', reporting: { mode: 'polled', seconds: 10 } },
      { signal: 'control-voltage', reporting: { mode: 'on-change' } },
    ],
    ...more,
  });

const STORIES: readonly Story[] = [
  {
    name: 'delays 30 s apart restart 3 s apart: separate',
    about: 'panel-a',
    site: TWO,
    happens: [
      ...outage(0, 40, 'unit-1', 'unit-2'),
      ...called(40, 'unit-1', 'unit-2'),
      '181: unit-1 starts',
      '184: unit-2 starts',
    ],
    facts: ['restart-sequence 40–184 certain: unit-1 unit-2'],
    measures: {
      outages: 1,
      outageSeconds: [39.8, 40.2],
      restarted: 2,
      verdict: 'separate',
      'unit-1.plannedSeconds': [140.8, 141.2],
      'unit-1.startedSeconds': [140.8, 141.2],
      'unit-1.deviationSeconds': [-0.2, 0.2],
      'unit-2.deviationSeconds': [-0.2, 0.2],
      'unit-1>unit-2.spacingSeconds': [2.8, 3.2],
      'unit-1>unit-2.verdict': 'separate',
    },
  },
  {
    name: 'power that goes and comes thrice (reclosing) is one row of outages and one restart, from the last return',
    about: 'panel-a',
    site: TWO,
    happens: [
      ...outage(0, 0.5, 'unit-1', 'unit-2'),
      ...outage(15, 15.5, 'unit-1', 'unit-2'),
      ...outage(45, 46, 'unit-1', 'unit-2'),
      ...called(46, 'unit-1', 'unit-2'),
      '187: unit-1 starts',
      '190: unit-2 starts',
    ],
    facts: ['restart-sequence 46–190 certain: unit-1 unit-2'],
    measures: { outages: 3, outageSeconds: [45.8, 46.2] },
  },
  {
    name: 'the return transfer from the generator is a second break and a second restart',
    about: 'panel-a',
    site: {
      panels: [{ ...PANEL, points: [{ signal: 'generator-running' }] }],
      units: [wired('unit-1'), wired('unit-2', slower)],
    },
    happens: [
      '-500: panel-a generator-running 0',
      ...outage(0, 12, 'unit-1', 'unit-2'),
      '8: panel-a generator-running 1',
      ...called(12, 'unit-1', 'unit-2'),
      '153: unit-1 starts',
      '156: unit-2 starts',
      ...outage(900, 900.5, 'unit-1', 'unit-2'),
      '900: unit-1 stops',
      '900: unit-2 stops',
      ...called(900.5, 'unit-1', 'unit-2'),
      '960: panel-a generator-running 0',
      '1041.5: unit-1 starts',
      '1044.5: unit-2 starts',
    ],
    facts: [
      'restart-sequence 12–156 certain: unit-1 unit-2',
      'restart-sequence 900.5–1044.5 certain: unit-1 unit-2',
    ],
    measures: { supply: 'generator' },
  },
  {
    name: 'a unit that isn’t allowed on the generator is held off by design, not overdue',
    about: 'panel-a',
    site: {
      panels: [{ ...PANEL, points: [{ signal: 'generator-running' }] }],
      units: [wired('unit-1'), wired('unit-2', { allowedOnGenerator: false })],
    },
    happens: [
      ...outage(0, 12, 'unit-1', 'unit-2'),
      '8: panel-a generator-running 1',
      ...called(12, 'unit-1', 'unit-2'),
      '153: unit-1 starts',
    ],
    facts: ['restart-sequence 12–153 certain: unit-1 unit-2'],
    measures: { 'unit-2.outcome': 'held-off', restarted: 1 },
  },
  {
    name: 'a unit with its call present that doesn’t come back is overdue, and the end leans on its recorded delay',
    about: 'panel-a',
    site: TWO,
    happens: [...outage(0, 40, 'unit-1', 'unit-2'), ...called(40, 'unit-1', 'unit-2'), '181: unit-1 starts'],
    facts: ['restart-sequence 40–192.3 probable: unit-1 unit-2'],
    measures: { 'unit-2.outcome': 'overdue', restarted: 1 },
  },
  {
    name: 'a unit that nobody calls isn’t awaited',
    about: 'panel-a',
    site: TWO,
    happens: [...outage(0, 40, 'unit-1', 'unit-2'), '40: unit-1 is called', '181: unit-1 starts'],
    facts: ['restart-sequence 40–181 certain: unit-1 unit-2'],
    measures: { 'unit-2.outcome': 'no-call' },
  },
  {
    name: 'a start that the thermostat’s own delay set takes no part in the verdict',
    about: 'panel-a',
    site: { panels: [PANEL], units: [wired('unit-1'), wired('unit-2')] },
    happens: [
      ...outage(0, 40, 'unit-1', 'unit-2'),
      '40: unit-1 is called',
      '181: unit-1 starts',
      '340: unit-2 is called',
      '340: unit-2 starts',
    ],
    facts: ['restart-sequence 40–340 certain: unit-1 unit-2'],
    measures: { 'unit-1.setBy': 'wait', 'unit-2.setBy': 'call', 'unit-2.plannedSeconds': [299.8, 300.2] },
  },
  {
    name: 'with no call contact a unit is given the thermostat’s delay and a minute more',
    about: 'panel-a',
    site: { panels: [PANEL], units: [noCall('unit-1'), noCall('unit-2')] },
    happens: [...outage(0, 40, 'unit-1', 'unit-2'), '181: unit-1 starts'],
    // 40 + (120 + 0.1 × 220) × 1.05 + 300 + 60 [computed]
    facts: ['restart-sequence 40–549.1 probable: unit-1 unit-2'],
    measures: { 'unit-1.setBy': 'wait', 'unit-2.outcome': 'overdue' },
  },
  {
    name: 'polled every 10 s, starts 3 s apart can’t be told; a period of 1 s would tell',
    about: 'panel-a',
    site: { panels: [PANEL], units: [polledOutput('unit-1'), polledOutput('unit-2', slower)] },
    happens: [
      ...outage(0, 40, 'unit-1', 'unit-2'),
      ...called(40, 'unit-1', 'unit-2'),
      '180..190: unit-1 starts',
      '180..190: unit-2 starts',
    ],
    facts: [
      'restart-sequence 40–180..190 certain: unit-1 unit-2',
      'simultaneous-start after-power-return 180..190 possible/certain: unit-1 unit-2',
    ],
    measures: {
      verdict: 'cannot-be-told',
      'unit-1>unit-2.spacingSeconds': [0, 10],
      'unit-1>unit-2.tellingPeriodSeconds': 1,
    },
  },
  {
    name: 'one unit alone that loses power is no outage of the panel',
    about: 'panel-a',
    site: TWO,
    happens: [...outage(0, 40, 'unit-1'), '40: unit-1 is called', '181: unit-1 starts'],
    facts: [],
  },
  {
    name: 'a panel’s only unit: its own supply or the panel’s can’t be told apart',
    about: 'panel-a',
    site: { panels: [PANEL], units: [wired('unit-1')] },
    happens: [...outage(0, 40, 'unit-1'), '40: unit-1 is called', '181: unit-1 starts'],
    facts: ['restart-sequence 40–181 possible: unit-1'],
  },
  {
    name: 'two of three units may share a breaker: probable',
    about: 'panel-a',
    site: { panels: [PANEL], units: [wired('unit-1'), wired('unit-2', slower), wired('unit-3')] },
    happens: [
      ...outage(0, 40, 'unit-1', 'unit-2'),
      ...called(40, 'unit-1', 'unit-2'),
      '181: unit-1 starts',
      '184: unit-2 starts',
    ],
    facts: ['restart-sequence 40–184 probable: unit-1 unit-2'],
  },
  {
    name: 'line voltage tells of the outage where control power isn’t wired',
    about: 'panel-a',
    site: {
      panels: [{ ...PANEL, points: [{ signal: 'line-voltage', reporting: { mode: 'on-change' } }] }],
      units: ['unit-1', 'unit-2'].map((id) =>
        wired(id, { points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }] }),
      ),
    },
    happens: [
      '-500: panel-a line-voltage 241',
      '-100: unit-1 is called',
      '-100: unit-1 starts',
      '0: panel-a line-voltage 3',
      '0: unit-1 stops',
      '0: unit-1 is no longer called',
      '40: panel-a line-voltage 240',
      ...called(40, 'unit-1', 'unit-2'),
      '181: unit-1 starts',
      '182: unit-2 starts',
    ],
    facts: [
      'restart-sequence 40–182 certain: unit-1 unit-2',
      'simultaneous-start after-power-return 181–182 certain/probable: unit-1 unit-2',
    ],
    measures: { verdict: 'simultaneous' },
    standing: { panel: { power: 'present', lineVoltage: { value: 240 } } },
  },
  {
    name: 'power goes again after the first restart: what was still awaited is lost again',
    about: 'panel-a',
    site: TWO,
    happens: [
      ...outage(0, 40, 'unit-1', 'unit-2'),
      ...called(40, 'unit-1', 'unit-2'),
      '181: unit-1 starts',
      '182: unit-1 stops',
      ...outage(182, 200, 'unit-1', 'unit-2'),
      ...called(200, 'unit-1', 'unit-2'),
      '341: unit-1 starts',
      '344: unit-2 starts',
    ],
    facts: [
      'restart-sequence 40–181 certain: unit-1 unit-2',
      'restart-sequence 200–344 certain: unit-1 unit-2',
    ],
    measures: { 'unit-1.outcome': 'started', 'unit-2.outcome': 'lost-again' },
  },
  {
    name: 'read while it waits: under way, and who is awaited',
    about: 'panel-a',
    site: TWO,
    happens: [...outage(0, 40, 'unit-1', 'unit-2'), ...called(40, 'unit-1', 'unit-2')],
    readAt: 100,
    facts: ['restart-sequence 40–… probable: unit-1 unit-2'],
    standing: { panel: { power: 'present', restarting: ['unit-1', 'unit-2'] } },
  },
  {
    name: 'while power is away the panel says so',
    about: 'panel-a',
    site: TWO,
    happens: ['0: unit-1 loses power', '0: unit-2 loses power'],
    readAt: 100,
    facts: [],
    standing: { panel: { power: 'away', restarting: [] } },
  },
];

describe('restart sequences', () => STORIES.forEach(tellStory));
