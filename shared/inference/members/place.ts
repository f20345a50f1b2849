import type { Instant } from '../../base/instant.ts';
import { siteAt, type Panel, type Point, type Site, type Space, type Unit } from '../../telemetry/site.ts';
import type { Subject } from '../event.ts';
import type { FoldContext } from '../fold.ts';
import { membersOf, pointsOf } from '../sources.ts';
import { spreadOf } from './wired.ts';

/** A panel or a space and its units, in the version of the site that holds at an instant. */
export interface Place {
  readonly site: Site;
  /** null: not a panel (not a space), or this version of the site doesn't have it */
  readonly panel: Panel | null;
  readonly space: Space | null;
  /** the place's own points, and those of the site that it reads */
  readonly points: readonly Point[];
  readonly units: readonly Unit[];
  readonly unit: (id: string) => Unit | null;
  /** µs by which an edge may come after what it may have come before */
  readonly spread: number;
}

const cache = new WeakMap<Site, Map<string, Place>>();

export const placeAt = (context: FoldContext, at: Instant): Place =>
  placeIn(siteAt(context.history, at)!, context.subject);

export function placeIn(site: Site, subject: Subject): Place {
  const key = `${subject.kind}/${subject.device}`;
  let places = cache.get(site);
  if (!places) cache.set(site, (places = new Map()));
  let place = places.get(key);
  if (!place) places.set(key, (place = readPlace(site, subject)));
  return place;
}

function readPlace(site: Site, subject: Subject): Place {
  const units = membersOf(site, subject);
  const byId = new Map(units.map((unit) => [unit.id, unit]));
  return {
    site,
    panel: subject.kind === 'panel' ? (site.panels.find(({ id }) => id === subject.device) ?? null) : null,
    space: subject.kind === 'space' ? (site.spaces.find(({ id }) => id === subject.device) ?? null) : null,
    points: pointsOf(site, subject),
    units,
    unit: (id) => byId.get(id) ?? null,
    spread: spreadOf(units),
  };
}
