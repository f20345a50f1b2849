import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/**
 * Starts closer together than the panel's minimum, 2 s (contract 4, handbook 5.3). Simultaneous only when the upper bound
 * of the spacing is below the minimum; nothing certain where another unit wasn't known.
 */
const PANEL = { id: 'panel-a', minimumStartSeparation: 2 };
const TWO = { panels: [PANEL], units: [wired('unit-1'), wired('unit-2')] };
const THREE = { panels: [PANEL], units: [wired('unit-1'), wired('unit-2'), wired('unit-3')] };
const polled = (id: string, every: number) =>
  wired(id, {
    points: [{ signal: 'compressor-output', reporting: { mode: 'polled', seconds: every } }],
  });

const BOTH_LOSE_POWER = [
  '0: unit-1 loses power',
  '0: unit-2 loses power',
  '60: unit-1 has power again',
  '60: unit-2 has power again',
  '60: unit-1 is called',
  '60: unit-2 is called',
];

const STORIES: readonly Story[] = [
  {
    name: 'two units with the same delay start together after an outage',
    about: 'panel-a',
    site: TWO,
    happens: [...BOTH_LOSE_POWER, '201: unit-1 starts', '202: unit-2 starts'],
    facts: [
      'restart-sequence 60–202 certain: unit-1 unit-2',
      'simultaneous-start after-power-return 201–202 certain/certain: unit-1 unit-2',
    ],
  },
  {
    name: 'starts 3 s apart are kept apart',
    about: 'panel-a',
    site: TWO,
    happens: [...BOTH_LOSE_POWER, '201: unit-1 starts', '204: unit-2 starts'],
    facts: ['restart-sequence 60–204 certain: unit-1 unit-2'],
  },
  {
    name: 'in ordinary running one coincidence is a fact and no more: no power returned',
    about: 'panel-a',
    site: TWO,
    happens: ['100: unit-1 starts', '101: unit-2 starts'],
    facts: ['simultaneous-start in-service 100–101 certain/certain: unit-1 unit-2'],
    measures: { starts: 2, closestSeconds: [0.8, 1.2], minimumSeparationSeconds: 2 },
  },
  {
    name: 'exactly at the minimum can’t be told from a little less',
    about: 'panel-a',
    site: TWO,
    happens: ['100: unit-1 starts', '102: unit-2 starts'],
    facts: ['simultaneous-start in-service 100–102 possible/certain: unit-1 unit-2'],
  },
  {
    name: 'polled every 10 s, two starts in one poll are nothing to write down in ordinary running',
    about: 'panel-a',
    site: { panels: [PANEL], units: [polled('unit-1', 10), polled('unit-2', 10)] },
    happens: ['100..110: unit-1 starts', '100..110: unit-2 starts'],
    facts: [],
  },
  {
    name: 'polled every second, two starts in one poll are simultaneous',
    about: 'panel-a',
    site: { panels: [PANEL], units: [polled('unit-1', 1), polled('unit-2', 1)] },
    happens: ['100..101: unit-1 starts', '100..101: unit-2 starts'],
    facts: ['simultaneous-start in-service 100..101 certain/probable: unit-1 unit-2'],
  },
  {
    name: 'three in a row, each 1.5 s after the one before, are one event',
    about: 'panel-a',
    site: THREE,
    happens: ['100: unit-1 starts', '101.5: unit-3 starts', '103: unit-2 starts'],
    facts: ['simultaneous-start in-service 100–103 certain/certain: unit-1 unit-2 unit-3'],
  },
  {
    name: 'a third that may belong reaches the times out, and isn’t a member',
    about: 'panel-a',
    site: THREE,
    happens: ['100: unit-1 starts', '102: unit-2 starts', '103: unit-3 starts'],
    facts: ['simultaneous-start in-service 99.9..102.1–103 certain/certain: unit-2 unit-3'],
  },
  {
    name: 'a unit that starts twice is not together with itself',
    about: 'panel-a',
    site: TWO,
    happens: ['100: unit-1 starts', '100.5: unit-1 stops', '101: unit-1 starts'],
    facts: [],
  },
  {
    name: 'on two gateways the clocks’ doubt keeps it from being certain',
    about: 'panel-a',
    site: {
      gateways: [
        { id: 'gateway', clockUncertainty: 0.5 },
        { id: 'other', clockUncertainty: 0.5 },
      ],
      panels: [PANEL],
      units: [
        wired('unit-1'),
        wired('unit-2', { points: [{ signal: 'compressor-output', gateway: 'other' }] }),
      ],
    },
    happens: ['100: unit-1 starts', '101: unit-2 starts'],
    facts: ['simultaneous-start in-service 100–101 possible/probable: unit-1 unit-2'],
  },
  {
    name: 'a third unit that was silent may have started first: probable',
    about: 'panel-a',
    site: THREE,
    happens: ['50: unit-3 is silent', '100: unit-1 starts', '101: unit-2 starts', '200: unit-3 is heard off'],
    facts: ['simultaneous-start in-service 100–101 probable/certain: unit-1 unit-2'],
  },
  {
    name: 'read at once, it waits for what may still belong to it',
    about: 'panel-a',
    site: TWO,
    happens: ['100: unit-1 starts', '101: unit-2 starts'],
    readAt: 101.5,
    facts: ['simultaneous-start in-service 100–101 probable/probable: unit-1 unit-2'],
  },
];

describe('simultaneous starts', () => STORIES.forEach(tellStory));
