import { NONE, type Field } from './field.ts';
import type { Part } from './part.ts';

/** A site's own facts, its contacts, its gateways and what is known of their clocks, in the order in which one meets them. */
const ID_HELP =
  'Lower-case letters, digits and hyphens. It is a word of the telemetry topic, and what was heard is kept under it: a new id begins with nothing.';

export const idField = (label: string): Field => ({ path: ['id'], label, kind: 'line', help: ID_HELP });
export const nameField = (label: string): Field => ({
  path: ['name'],
  label,
  kind: 'line',
  help: 'What people call it: it stands on pages, in subject lines and is read aloud. Left out, the id stands for it.',
});
export const notesField: Field = { path: ['notes'], label: 'Notes', kind: 'lines' };

export const SITE: Part = {
  title: 'Site',
  sections: [
    {
      title: 'What it is called, and its clock',
      fields: [
        nameField('Name of the site'),
        {
          path: ['timeZone'],
          label: 'Time zone',
          kind: 'line',
          help: 'The zone’s name, as America/Chicago. Hours of use, nights and reports are told in it.',
        },
      ],
    },
    {
      title: 'Where it is, and how to get in',
      fields: [
        {
          path: ['address'],
          label: 'Address',
          kind: 'lines',
          help: 'What somebody types into a map at night.',
        },
        {
          path: ['location', 'latitude'],
          label: 'Latitude',
          kind: 'number',
          measure: '°',
          help: 'Degrees, south of the equator with a minus.',
        },
        {
          path: ['location', 'longitude'],
          label: 'Longitude',
          kind: 'number',
          measure: '°',
          help: 'Degrees, west of Greenwich with a minus.',
        },
        {
          path: ['access'],
          label: 'Access',
          kind: 'lines',
          help: 'Gate, key, alarm panel, whom to call on arrival. Shown only to people of this site, and never in a notice.',
        },
        notesField,
      ],
    },
  ],
  lists: [{ name: 'contacts', of: 'contact', title: 'Contacts', one: 'contact' }],
};

export const CONTACT: Part = {
  title: 'Contact',
  sections: [
    {
      title: '',
      fields: [
        { path: ['name'], label: 'Name', kind: 'line' },
        { path: ['role'], label: 'What for', kind: 'line', help: 'As “caretaker, has the key”.' },
        { path: ['phone'], label: 'Telephone', kind: 'line' },
        { path: ['email'], label: 'E-mail address', kind: 'line' },
        { path: ['notes'], label: 'Notes', kind: 'lines' },
      ],
    },
  ],
  lists: [],
};

export const GATEWAY: Part = {
  title: 'Gateway',
  sections: [
    {
      title: '',
      fields: [
        idField('Id of the gateway'),
        nameField('Name of the gateway'),
        {
          path: ['heartbeatSeconds'],
          label: 'Heartbeat promised every',
          kind: 'number',
          measure: 's',
          choices: [NONE('none promised')],
          assumed: null,
          help: 'With a promise, its points count as unknown three periods after its last sign of life. With none, silence of contacts that report on change shows nothing. It is a setting of the gateway.',
        },
        {
          path: ['clockUncertainty'],
          label: 'Its clock may be off by',
          kind: 'number',
          measure: 's',
          assumed: 1,
          help: 'Times of two gateways are compared no closer than this. With time from the network a second is plenty; a clock that is set by hand may be off by minutes.',
        },
      ],
    },
  ],
  lists: [
    {
      name: 'clockOffsets',
      of: 'clock-offset',
      title: 'Known errors of its clock',
      one: 'clock error',
      help: 'Dated: what the clock was off by, from when. It is applied when the record is read, and never written into samples.',
    },
  ],
};

export const CLOCK_OFFSET: Part = {
  title: 'Clock error',
  sections: [
    {
      title: '',
      fields: [
        {
          path: ['from'],
          label: 'From',
          kind: 'line',
          help: 'An instant with its zone, as 2026-03-02T08:15:00Z, or “always”.',
        },
        {
          path: ['seconds'],
          label: 'To be added to its times',
          kind: 'number',
          measure: 's',
          help: 'A clock that is 90 s slow needs 90, one that is 90 s fast needs -90.',
        },
      ],
    },
  ],
  lists: [],
};

export const PHOTO: Part = {
  title: 'Photo',
  sections: [{ title: '', fields: [{ path: [], label: 'Where the photo is', kind: 'line' }] }],
  lists: [],
};
