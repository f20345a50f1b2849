import { describe } from 'vitest';
import { tellStory, type Story } from './run.ts';

/** The space above its limit of 30 °C, as measured (contract 4). Polled each 60 s unless said. */
const site = (reporting: object = { mode: 'polled', seconds: 60 }, more: object = {}) => ({
  panels: [{ id: 'panel-a' }],
  spaces: [
    {
      id: 'room',
      limits: { temperature: 30 },
      points: [{ signal: 'space-temperature', reporting, ...more }],
    },
  ],
  units: [],
});
const measured = (from: number, ...degrees: (number | string | null)[]) =>
  degrees.flatMap((value, i) =>
    value === null ? [] : [`${from + 60 * i}: room space-temperature ${value}`],
  );

const STORIES: readonly Story[] = [
  {
    name: 'up and down again: each edge lies between two samples',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 30, 31, 33, 30, 29),
    readAt: 310,
    facts: ['high-temperature measured 60..120–180..240 certain/certain'],
    measures: { limitTemperature: 30, peakTemperature: 33 },
  },
  {
    name: 'exactly at the limit is not above it',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 30, 30, 29),
    readAt: 200,
    facts: [],
  },
  {
    name: 'it lasts: open',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 31, 32),
    readAt: 130,
    facts: ['high-temperature measured 0..60–… certain/certain'],
    standing: { space: { temperature: { value: 32 }, temperatureLimit: 30 } },
  },
  {
    name: 'a bad sample decides nothing: the edge widens to the good ones around it',
    about: 'room',
    site: site(),
    happens: measured(0, 29, '55 bad', 31, 29),
    readAt: 200,
    facts: ['high-temperature measured 0..120–120..180 certain/certain'],
  },
  {
    name: 'beyond what can be is bad as well',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 400, 29),
    readAt: 130,
    facts: [],
  },
  {
    name: 'above before a gap and above after it: one event, its end from the gap on',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 31, null, null, null, null, null, 31, 29),
    readAt: 490,
    facts: [
      'high-temperature measured 0..60–60..480 certain/certain',
      'telemetry-gap point-silent 60–420 certain/certain',
    ],
  },
  {
    name: 'below before a gap and above after it: it rose within',
    about: 'room',
    site: site(),
    happens: measured(0, 29, 29, null, null, null, null, null, 31, 29),
    readAt: 490,
    facts: [
      'telemetry-gap point-silent 60–420 certain/certain',
      'high-temperature measured 60..420–420..480 certain/certain',
    ],
  },
  {
    name: 'above at the first sample: since when isn’t known',
    about: 'room',
    site: site(),
    happens: measured(0, 31, 29),
    readAt: 70,
    facts: ['high-temperature measured 0–0..60 probable/certain'],
  },
  {
    name: 'scale and offset are applied before the limit is',
    about: 'room',
    site: site({ mode: 'polled', seconds: 60 }, { scale: 0.1, offset: -10 }),
    happens: measured(0, 390, 410, 390),
    readAt: 130,
    facts: ['high-temperature measured 0..60–60..120 certain/certain'],
  },
  {
    name: 'on change: timed at the gateway',
    about: 'room',
    site: site({ mode: 'on-change' }),
    happens: [
      '0: room space-temperature 29',
      '100: room space-temperature 31',
      '500: room space-temperature 29',
    ],
    facts: ['high-temperature measured 100–500 certain/certain'],
  },
];

describe('high temperature, measured', () => STORIES.forEach(tellStory));
