import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/** When the generator fed a panel: between two transfers, not for as long as it runs (handbook 5.3, contract 4). */
const POINTS = ['generator-running', 'utility-failed', 'line-voltage'];
const panel = (signals: readonly string[]): object => ({
  id: 'panel-a',
  nominalVoltage: 240,
  points: signals.map((signal) => ({ signal, reporting: { mode: 'on-change' } })),
});
const site = (signals: readonly string[]): object => ({ panels: [panel(signals)], units: [wired('unit-1')] });
const before = (signals: readonly string[]): string[] =>
  signals.map((signal) => `-500: panel-a ${signal} ${signal === 'line-voltage' ? 240 : 0}`);

const STORIES: readonly Story[] = [
  {
    name: 'it begins when the panel has power from it, and ends with the break of the return transfer',
    about: 'panel-a',
    site: site(POINTS),
    happens: [
      ...before(POINTS),
      '0: panel-a line-voltage 0',
      '0: panel-a utility-failed 1',
      '8: panel-a generator-running 1',
      '11: panel-a line-voltage 238',
      '3600: panel-a utility-failed 0',
      '3900: panel-a line-voltage 0',
      '3900.6: panel-a line-voltage 240',
      '4200: panel-a generator-running 0',
    ],
    facts: ['generator-supply 11–3900 certain'],
  },
  {
    name: 'where no meter sees the break it ends between the utility’s return and the generator’s stop',
    about: 'panel-a',
    site: site(['generator-running', 'utility-failed']),
    happens: [
      ...before(['generator-running', 'utility-failed']),
      '0: panel-a utility-failed 1',
      '8: panel-a generator-running 1',
      '3600: panel-a utility-failed 0',
      '4200: panel-a generator-running 0',
    ],
    facts: ['generator-supply 8–3599.9..4200.1 certain'],
  },
  {
    name: 'a generator that is only tried out feeds nothing',
    about: 'panel-a',
    site: site(POINTS),
    happens: [...before(POINTS), '0: panel-a generator-running 1', '900: panel-a generator-running 0'],
    facts: [],
  },
  {
    name: 'without a contact of the utility it is probable, from an outage that ended with the generator running',
    about: 'panel-a',
    site: site(['generator-running', 'line-voltage']),
    happens: [
      ...before(['generator-running', 'line-voltage']),
      '0: panel-a line-voltage 0',
      '8: panel-a generator-running 1',
      '11: panel-a line-voltage 238',
      '1800: panel-a line-voltage 0',
      '1801: panel-a line-voltage 240',
    ],
    facts: ['generator-supply 11–1800 probable'],
  },
  {
    name: 'while it lasts it stands, its end awaited',
    about: 'panel-a',
    site: site(POINTS),
    readAt: 600,
    happens: [
      ...before(POINTS),
      '0: panel-a line-voltage 0',
      '0: panel-a utility-failed 1',
      '8: panel-a generator-running 1',
      '11: panel-a line-voltage 238',
    ],
    facts: ['generator-supply 11–… probable'],
  },
];

describe('generator supply', () => {
  for (const story of STORIES) tellStory(story);
});
