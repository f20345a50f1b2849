import { choice, NONE, type Field } from './field.ts';
import type { EntryList, Part } from './part.ts';
import { idField, nameField, notesField } from './site-fields.ts';

/** Spaces with their limits, panels with their supply. */
export const POINTS: EntryList = { name: 'points', of: 'point', title: 'Points', one: 'point' };

export const SPACE: Part = {
  title: 'Space',
  sections: [
    { title: '', fields: [idField('Id of the space'), nameField('Name of the space')] },
    {
      title: 'Limits',
      fields: [
        {
          path: ['limits', 'temperature'],
          label: 'Temperature limit',
          kind: 'number',
          measure: '°C',
          choices: [NONE('none')],
          assumed: null,
          help: 'Above it the space is too warm, and somebody is told. What the equipment in the room, or its people, can bear; ask whoever answers for them.',
        },
        {
          path: ['limits', 'forecastSeconds'],
          label: 'Told ahead when the limit comes within',
          kind: 'number',
          measure: 's',
          assumed: 3600,
          help: 'About as long as somebody needs to get there.',
        },
        {
          path: ['unitsNeeded'],
          label: 'Units needed at once',
          kind: 'number',
          assumed: 1,
          help: 'Fewer able units than this is cooling lost; fewer than are installed is cooling reduced.',
        },
      ],
    },
    { title: '', fields: [notesField] },
  ],
  lists: [
    {
      name: 'inUse',
      of: 'use',
      title: 'In use',
      one: 'time of use',
      help: 'By the site’s clock. Weak cooling counts for more while the space is in use.',
    },
    POINTS,
  ],
};

export const USE: Part = {
  title: 'Time of use',
  sections: [
    {
      title: '',
      fields: [
        { path: ['days'], label: 'Days', kind: 'line', help: 'As mon-fri, sat or mon,wed,fri.' },
        { path: ['from'], label: 'From', kind: 'line', help: 'As 07:30.' },
        { path: ['to'], label: 'Until', kind: 'line', help: 'As 16:00; 24:00 is the end of the day.' },
      ],
    },
  ],
  lists: [],
};

const KIND = [choice('transformer', 'a transformer'), choice('generator', 'a generator')];

const SUPPLY: readonly Field[] = [
  {
    path: ['supply', 'kind'],
    label: 'Supplied by',
    kind: 'choice',
    choices: KIND,
    help: 'With the rating it tells how far the voltage falls when units start, alone and together.',
  },
  {
    path: ['supply', 'ratedKva'],
    label: 'Rating of the supply',
    kind: 'number',
    measure: 'kVA',
    help: 'On the transformer’s or the generator’s nameplate. The utility knows it of a transformer on a pole or a pad.',
  },
  {
    path: ['supply', 'impedancePercent'],
    label: 'Impedance of the supply',
    kind: 'number',
    measure: '%',
    assumed: 2,
    help: 'On the transformer’s nameplate, as “% Z” or “impedance”.',
  },
  {
    path: ['supply', 'reactanceToResistance'],
    label: 'Reactance to resistance (X/R)',
    kind: 'number',
    assumed: 1.5,
    help: 'Seldom on a nameplate: leave it out unless somebody has calculated it.',
  },
];

const GENERATOR: readonly Field[] = [
  {
    path: ['generator', 'ratedKva'],
    label: 'Rating of the standby generator',
    kind: 'number',
    measure: 'kVA',
    help: 'On its nameplate; where only kW are given, kVA is usually kW divided by 0.8.',
  },
  {
    path: ['generator', 'transientReactance'],
    label: 'Transient reactance (X′d)',
    kind: 'number',
    measure: 'per unit',
    help: 'In the generator’s data sheet, as a share of 1.',
  },
];

export const PANEL: Part = {
  title: 'Panel',
  sections: [
    {
      title: '',
      fields: [
        idField('Id of the panel'),
        nameField('Name of the panel'),
        {
          path: ['nominalVoltage'],
          label: 'Nominal voltage',
          kind: 'number',
          measure: 'V',
          assumed: 240,
          help: 'Between the lines that the units are fed from: on the panel’s label.',
        },
        {
          path: ['phases'],
          label: 'Phases',
          kind: 'choice',
          choices: [choice(1, 'single-phase'), choice(3, 'three-phase')],
          assumed: 1,
        },
        {
          path: ['frequency'],
          label: 'Frequency',
          kind: 'choice',
          choices: [choice(50, '50 Hz'), choice(60, '60 Hz')],
          assumed: 60,
        },
      ],
    },
    { title: 'Supply', fields: SUPPLY },
    { title: 'Standby generator', fields: GENERATOR },
    {
      title: 'Starts on this panel',
      fields: [
        {
          path: ['minimumStartSeparation'],
          label: 'Starts at least apart by',
          kind: 'number',
          measure: 's',
          assumed: 2,
          help: 'Starts closer together than this after a power return are told of, and the stagger is planned for it.',
        },
        {
          path: ['startVoltageLimit'],
          label: 'A start may pull the voltage down to',
          kind: 'number',
          measure: 'of nominal',
          assumed: 0.9,
          help: 'As a share: 0.9 is 90 %.',
        },
      ],
    },
    { title: '', fields: [notesField] },
  ],
  lists: [POINTS],
};
