import type { Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Site, Space } from '../telemetry/site.ts';
import { stretchOf } from './disturbances.ts';
import type { RideThrough } from './ride-through.ts';
import { uncovered, type Stretch } from './stretches.ts';

/** A room through a power event: time without cooling against its temperature. */
export interface RoomReview {
  readonly space: string;
  /** seconds [least, most] in which nothing cooled it though something had, or its call waited; null: not known */
  readonly withoutCooling: Bounds | null;
  /** the highest temperature from the event's beginning to the end of what is reviewed; null: none is known */
  readonly highest: Reading | null;
  /** °C; null: no limit is recorded */
  readonly limit: number | null;
}

export interface Reading {
  readonly value: number;
  readonly t: Instant;
}

export interface RoomsInput {
  readonly site: Site;
  readonly rides: readonly RideThrough[];
  readonly runs: readonly EventDraft[];
  readonly highest: ReadonlyMap<string, Reading>;
  readonly until: Instant;
}

/** Rooms with a unit that the event reached, longest without cooling first. */
export function roomReviews(input: RoomsInput): RoomReview[] {
  const { site, highest } = input;
  return site.spaces
    .filter((space) => ridesIn(input, space).length > 0)
    .map((space) => ({
      space: space.id,
      withoutCooling: withoutCooling(input, space),
      highest: highest.get(space.id) ?? null,
      limit: space.temperatureLimit,
    }))
    .sort((a, b) => mostWithout(b) - mostWithout(a) || (a.space < b.space ? -1 : 1));
}

export const mostWithout = ({ withoutCooling }: Pick<RoomReview, 'withoutCooling'>): number =>
  withoutCooling?.[1] ?? 0;

function ridesIn({ site, rides }: RoomsInput, space: Space): RideThrough[] {
  const units = new Set(site.units.filter((unit) => unit.space === space.id).map(({ id }) => id));
  return rides.filter(({ unit }) => units.has(unit));
}

/** What was off and had run, less what any unit of the room ran meanwhile. */
function withoutCooling(input: RoomsInput, space: Space): Bounds | null {
  const rides = ridesIn(input, space);
  if (rides.some(({ outcome }) => outcome === 'not-known')) return null;
  const off: Stretch[] = rides.flatMap(({ drops }) =>
    drops.map(({ at, restarted }) => ({ from: at, to: restarted })),
  );
  const units = new Set(rides.map(({ unit }) => unit));
  const running = input.runs.filter(({ unit }) => unit !== null && units.has(unit)).map(stretchOf);
  const [least, most] = off.length > 0 ? uncovered(off, running, input.until) : [0, 0];
  const least0 = rides.every((ride) => ride.outcome !== 'dropped' || ride.withoutCooling[0] > 0) ? least : 0;
  const waited = Math.max(
    0,
    ...rides.filter(({ outcome }) => outcome === 'held').map((one) => one.withoutCooling[1]),
  );
  return [least0, off.length > 0 ? most : waited];
}
