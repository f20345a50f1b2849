import type { Zone } from '../page/zone.ts';
import type { EventView } from '../view/site-view.ts';

/** Events newest first under the day they began on, in the zone that is written. */
export function journal(
  events: readonly EventView[],
  runs: boolean,
  zone: Zone,
): readonly (readonly [string, readonly EventView[]])[] {
  const days = new Map<string, EventView[]>();
  const shown = events.filter((event) => runs || event.kind !== 'compressor-run');
  for (const event of shown.toSorted((a, b) => b.start.latest - a.start.latest)) {
    const day = zone.day(event.start.latest);
    days.set(day, [...(days.get(day) ?? []), event]);
  }
  return [...days];
}
