import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/** Control power gone from one unit, from all, and why (handbook 4 rule 10, 5.1 "No meter needed"). */
const TWO = { panels: [{ id: 'panel-a' }], units: [wired('unit-1'), wired('unit-2')] };
const METER = { signal: 'line-voltage', reporting: { mode: 'polled', seconds: 1 } };
const METERED = { ...TWO, panels: [{ id: 'panel-a', points: [METER] }] };
const line = (from: number, to: number, volts: number) =>
  Array.from({ length: to - from + 1 }, (_, i) => `${from + i}: panel-a line-voltage ${volts}`);

const STORIES: readonly Story[] = [
  {
    name: 'one unit away while another has power: its own supply',
    about: 'panel-a',
    site: TWO,
    losses: true,
    happens: ['100: unit-1 loses power', '160: unit-1 has power again'],
    facts: ['unit-1 power-loss unit-only 100–160 certain/certain'],
  },
  {
    name: 'both away together: the supply, probably',
    about: 'panel-a',
    site: TWO,
    losses: true,
    happens: [
      '100: unit-1 loses power',
      '100: unit-2 loses power',
      '160: unit-1 has power again',
      '160: unit-2 has power again',
    ],
    facts: [
      'unit-1 power-loss supply 100–160 certain/probable',
      'unit-2 power-loss supply 100–160 certain/probable',
    ],
  },
  {
    name: 'the line was away too: the supply',
    about: 'panel-a',
    site: METERED,
    losses: true,
    happens: [
      ...line(90, 99, 240),
      ...line(100, 159, 0),
      ...line(160, 170, 240),
      '100: unit-1 loses power',
      '160: unit-1 has power again',
    ],
    facts: ['unit-1 power-loss supply 100–160 certain/certain'],
  },
  {
    name: 'the line stayed: its own supply, whatever the other unit does',
    about: 'panel-a',
    site: METERED,
    losses: true,
    happens: [
      ...line(90, 170, 240),
      '100: unit-1 loses power',
      '100: unit-2 loses power',
      '160: unit-1 has power again',
      '160: unit-2 has power again',
    ],
    facts: [
      'unit-1 power-loss unit-only 100–160 certain/certain',
      'unit-2 power-loss unit-only 100–160 certain/certain',
    ],
  },
  {
    name: "a panel's only unit, no meter: can't be told",
    about: 'panel-a',
    site: { panels: [{ id: 'panel-a' }], units: [wired('unit-1')] },
    losses: true,
    happens: ['100: unit-1 loses power'],
    facts: ['unit-1 power-loss unknown 100–… certain/possible'],
  },
];

describe('power losses of units', () => {
  for (const story of STORIES) tellStory(story);
});
