import { choices } from './ground.svelte.ts';
import { ownZone, zoneNamed, type Zone } from './zone.ts';

/** The zone that times of a site are written in: the site's, unless the reader asked for their own. */
export const zoneOf = (siteZone: string): Zone =>
  choices.times === 'mine' ? ownZone() : zoneNamed(siteZone);
