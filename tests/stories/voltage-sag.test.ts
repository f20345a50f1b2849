import { describe } from 'vitest';
import { tellStory, wired, type Story } from './run.ts';

/** What the panel's supply did, by its meter and without one (handbook 5.1). The panel's declared voltage is 240 V. */
const METER = { signal: 'line-voltage', reporting: { mode: 'polled', seconds: 1 } };
const FAST = { panels: [{ id: 'panel-a', points: [METER] }], units: [wired('unit-1')] };
const THREE = {
  panels: [
    {
      id: 'panel-a',
      phases: 3,
      points: ['ab', 'bc', 'ca'].map((pair) => ({ ...METER, signal: `line-voltage-${pair}` })),
    },
  ],
  units: [wired('unit-1')],
};
const NO_METER = { panels: [{ id: 'panel-a' }], units: [wired('unit-1'), wired('unit-2')] };
const TEN_MINUTES = {
  ...FAST,
  panels: [{ id: 'panel-a', points: [{ ...METER, reporting: { mode: 'polled', seconds: 600 } }] }],
};
const CONTACT = {
  panels: [{ id: 'panel-a', points: [{ signal: 'utility-failed' }] }],
  units: [wired('unit-1')],
};

/** Half-cycle values of 60 Hz from a waveform, `halves` of them from `at` s on. */
const halfCycles = (at: number, halves: number, volts: number, signal = 'line-voltage') =>
  Array.from({ length: halves }, (_, i) => `${(at + i / 120).toFixed(6)}: panel-a ${signal} ${volts}`);
const polled = (from: number, to: number, volts: number, signal = 'line-voltage') =>
  Array.from({ length: to - from + 1 }, (_, i) => `${from + i}: panel-a ${signal} ${volts}`);

const STORIES: readonly Story[] = [
  {
    name: 'half-cycle values from a waveform: a sag to 70 % for 0.1 s, with its class',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [
      ...polled(90, 99, 240),
      ...halfCycles(99.5, 30, 240),
      ...halfCycles(99.75, 12, 168),
      ...halfCycles(99.85, 18, 240),
      ...polled(100, 110, 240),
    ],
    facts: ['voltage-sag 99.7–99.8 certain'],
    measures: { residualVolts: 168, residualPerUnit: 0.7, class: 'instantaneous sag' },
  },
  {
    name: 'the same sag in a poll and in a recorder’s half-cycle values is one, as narrow as the recorder tells',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [
      ...polled(90, 99, 240),
      ...halfCycles(99.5, 60, 240),
      ...halfCycles(100, 24, 168),
      '100.1: panel-a line-voltage 168.2',
      ...halfCycles(100.2, 36, 240),
      ...polled(101, 110, 240),
    ],
    facts: ['voltage-sag 100–100.2 certain'],
    measures: { residualVolts: 168, class: 'instantaneous sag' },
  },
  {
    name: 'one low reading of a meter polled each second: at most 180 V, at most 2 s, no class',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [...polled(90, 99, 240), ...polled(100, 100, 180), ...polled(101, 110, 240)],
    facts: ['voltage-sag 99..100–100..101 certain'],
    measures: { residualVolts: [0, 180], residualPerUnit: [0, 0.75], seconds: [0, 2], class: 'not measured' },
  },
  {
    name: 'a meter that reports on change: it held 240 V until it told of 0, hours later',
    about: 'panel-a',
    supply: true,
    site: { ...FAST, panels: [{ id: 'panel-a', points: [{ ...METER, reporting: { mode: 'on-change' } }] }] },
    happens: [
      '90: panel-a line-voltage 240',
      '9000: panel-a line-voltage 0',
      '9180: panel-a line-voltage 240',
    ],
    facts: ['interruption 9000–9180 certain', 'voltage-sag 9000–9180 certain'],
    measures: { seconds: [179.8, 180.2] },
  },
  {
    name: 'an outage of three minutes, seen each second: a dip and in it an interruption, sustained',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [...polled(90, 99, 240), ...polled(100, 280, 0), ...polled(281, 290, 240)],
    facts: ['interruption 99..100–280..281 certain', 'voltage-sag 99..100–280..281 certain'],
    measures: { residualVolts: 0, seconds: [180, 182], class: 'sustained interruption' },
  },
  {
    name: 'hysteresis: 91 % ends no sag that began below 90 %, 92 % does',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [
      ...polled(90, 99, 240),
      ...polled(100, 104, 213),
      ...polled(105, 109, 218.4),
      ...polled(110, 120, 220.8),
    ],
    facts: ['voltage-sag 99..100–109..110 certain'],
  },
  {
    name: 'three phases: a sag of two pairs one after the other is one sag, and no interruption while one pair stays',
    about: 'panel-a',
    supply: true,
    site: THREE,
    happens: [
      ...polled(90, 120, 240, 'line-voltage-ca'),
      ...polled(90, 99, 240, 'line-voltage-ab'),
      ...polled(100, 105, 20, 'line-voltage-ab'),
      ...polled(106, 120, 240, 'line-voltage-ab'),
      ...polled(90, 102, 240, 'line-voltage-bc'),
      ...polled(103, 109, 20, 'line-voltage-bc'),
      ...polled(110, 120, 240, 'line-voltage-bc'),
    ],
    facts: ['voltage-sag 99..100–109..110 certain'],
    measures: { channels: 'A–B, B–C' },
  },
  {
    name: 'a swell to 115 %, polled: it may have been higher between two readings, and is a temporary one all the same',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [...polled(90, 99, 240), ...polled(100, 109, 276), ...polled(110, 120, 240)],
    facts: ['voltage-swell 99..100–109..110 certain'],
    measures: { residualPerUnit: [1.15, 4.1667], class: 'temporary swell' },
  },
  {
    name: 'low when first heard: that it began there isn’t certain',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [...polled(100, 109, 200), ...polled(110, 120, 240)],
    facts: ['voltage-sag 100–109..110 probable'],
  },
  {
    name: 'still low: it lasts',
    about: 'panel-a',
    supply: true,
    site: FAST,
    happens: [...polled(90, 99, 240), ...polled(100, 120, 200)],
    readAt: 120.5,
    facts: ['voltage-sag 99..100–… probable'],
    measures: { residualVolts: [0, 200] },
  },
  {
    name: 'a meter that keeps ten minutes: how low it was is measured, how long it lasted at most follows from the mean',
    about: 'panel-a',
    supply: true,
    site: TEN_MINUTES,
    happens: [
      '0..600: panel-a line-voltage 238..241 mean 240',
      '600..1200: panel-a line-voltage 180..241 mean 239.5',
      '1200..1800: panel-a line-voltage 238..241 mean 240',
    ],
    facts: ['voltage-sag 600..1200 certain'],
    // T (most − mean) / (most − 92 %) = 600 · 1.5 / 20.2
    measures: { residualPerUnit: 0.75, seconds: [0, 44.554455], class: 'not measured' },
  },
  {
    name: 'the same without a mean: it lasted no longer than the ten minutes',
    about: 'panel-a',
    supply: true,
    site: TEN_MINUTES,
    happens: [
      '0..600: panel-a line-voltage 238..241',
      '600..1200: panel-a line-voltage 180..241',
      '1200..1800: panel-a line-voltage 238..241',
    ],
    facts: ['voltage-sag 600..1200 certain'],
    measures: { residualVolts: 180, seconds: [0, 600] },
  },
  {
    name: 'three intervals of an outage, the middle one dead: at least ten minutes, at most thirty, sustained',
    about: 'panel-a',
    supply: true,
    site: TEN_MINUTES,
    happens: [
      '0..600: panel-a line-voltage 238..241',
      '600..1200: panel-a line-voltage 0..241',
      '1200..1800: panel-a line-voltage 0..0',
      '1800..2400: panel-a line-voltage 0..241',
      '2400..3000: panel-a line-voltage 238..241',
    ],
    facts: ['interruption 600..1200–1800..2400 probable', 'voltage-sag 600..1200–1800..2400 probable'],
    measures: { residualVolts: 0, seconds: [600, 1800], class: 'sustained interruption' },
  },
  {
    name: 'an interval that never came: what lay in it may have been lower, and the sag may have begun there',
    about: 'panel-a',
    supply: true,
    site: TEN_MINUTES,
    happens: [
      '0..600: panel-a line-voltage 238..241',
      '1200..1800: panel-a line-voltage 180..241',
      '1800..2400: panel-a line-voltage 238..241',
    ],
    facts: ['voltage-sag 600..1800–1200..1800 certain'],
    measures: { residualPerUnit: [0, 0.75], seconds: [0, 1200] },
  },
  {
    name: 'no meter, both units away together: the supply was interrupted, probably; how low isn’t measured',
    about: 'panel-a',
    supply: true,
    site: NO_METER,
    happens: [
      '100: unit-1 loses power',
      '100: unit-2 loses power',
      '160: unit-1 has power again',
      '160: unit-2 has power again',
    ],
    facts: ['interruption 100–160 probable'],
    measures: { residualVolts: 'not measured', class: 'not measured' },
  },
  {
    name: 'no meter, one unit of two away: its own loss, no interruption of the panel',
    about: 'panel-a',
    supply: true,
    site: NO_METER,
    happens: ['100: unit-1 loses power', '160: unit-1 has power again'],
    facts: [],
  },
  {
    name: 'no meter but the utility contact',
    about: 'panel-a',
    supply: true,
    site: CONTACT,
    happens: [
      '-500: panel-a utility-failed 0',
      '100: panel-a utility-failed 1',
      '400: panel-a utility-failed 0',
    ],
    facts: ['interruption 100–400 probable'],
    measures: { residualVolts: 'not measured', class: 'not measured' },
  },
  {
    name: 'a gateway was silent, and its unit starts 141 s after its return: an outage of both is possible',
    about: 'panel-a',
    supply: true,
    site: {
      panels: [{ id: 'panel-a' }],
      units: [
        {
          id: 'unit-1',
          panel: 'panel-a',
          protection: { offDelay: 210 },
          points: [{ signal: 'compressor-output' }],
        },
      ],
    },
    happens: [
      '90: unit-1 starts',
      '120..120: unit-1 is silent',
      '3000..3000: unit-1 is heard off',
      '3141: unit-1 starts',
    ],
    facts: ['interruption 120..3000 possible'],
    measures: { residualVolts: 'not measured' },
  },
  {
    name: 'a gateway was silent, and its unit starts ten minutes after its return: nothing is made of it',
    about: 'panel-a',
    supply: true,
    site: {
      panels: [{ id: 'panel-a' }],
      units: [
        {
          id: 'unit-1',
          panel: 'panel-a',
          protection: { offDelay: 210 },
          points: [{ signal: 'compressor-output' }],
        },
      ],
    },
    happens: [
      '90: unit-1 starts',
      '120..120: unit-1 is silent',
      '3000..3000: unit-1 is heard off',
      '3600: unit-1 starts',
    ],
    facts: [],
  },
];

describe('the supply of a panel', () => {
  for (const story of STORIES) tellStory(story);
});
