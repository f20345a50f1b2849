import type { Field } from './field.ts';
import type { Part, PartName } from './part.ts';
import { PANEL, SPACE, USE } from './place-fields.ts';
import { POINT } from './point-fields.ts';
import { CLOCK_OFFSET, CONTACT, GATEWAY, PHOTO, SITE } from './site-fields.ts';
import { UNIT } from './unit-fields.ts';

/** Every part of a site's document with its inputs: total, so that a new part doesn't compile without them. */
export const PARTS: Readonly<Record<PartName, Part>> = {
  site: SITE,
  contact: CONTACT,
  gateway: GATEWAY,
  'clock-offset': CLOCK_OFFSET,
  space: SPACE,
  use: USE,
  panel: PANEL,
  unit: UNIT,
  photo: PHOTO,
  point: POINT,
};

export const fieldsOf = (part: Part): readonly Field[] => part.sections.flatMap(({ fields }) => fields);

/** The lists of a site, in the order in which someone wires one. */
export const SITE_LISTS = [
  {
    name: 'gateways',
    of: 'gateway',
    title: 'Gateways',
    one: 'gateway',
    help: 'What the wires end in. A site without a list has one, called “gateway”.',
  },
  { name: 'panels', of: 'panel', title: 'Panels and supply', one: 'panel' },
  { name: 'spaces', of: 'space', title: 'Spaces and limits', one: 'space' },
  { name: 'units', of: 'unit', title: 'Units', one: 'unit' },
  { name: 'points', of: 'point', title: 'Points of the site', one: 'point' },
] as const;
export type SiteListName = (typeof SITE_LISTS)[number]['name'];
