import { SECOND } from '../../../shared/base/instant.ts';
import type { Zone } from '../page/zone.ts';
import type { EventView } from '../view/site-view.ts';

/**
 * Events newest first under the day they began on. What happened to many at once – the same kind, the same cause, within
 * some seconds – is one entry: an outage of a school isn't sixteen lines.
 */
export interface JournalEntry {
  readonly id: string;
  readonly events: readonly EventView[];
}
export interface JournalDay {
  readonly day: string;
  readonly entries: readonly JournalEntry[];
}

/** Events this close together are told as one. */
const TOGETHER = 5 * SECOND;
const ENOUGH = 3;

export function journal(events: readonly EventView[], runs: boolean, zone: Zone): readonly JournalDay[] {
  const shown = events.filter((event) => runs || event.kind !== 'compressor-run');
  const days = new Map<string, JournalEntry[]>();
  for (const entry of entriesOf(shown)) {
    const day = zone.day(entry.events[0]!.start.latest);
    days.set(day, [...(days.get(day) ?? []), entry]);
  }
  return [...days].map(([day, entries]) => ({ day, entries }));
}

function entriesOf(events: readonly EventView[]): JournalEntry[] {
  const groups: EventView[][] = [];
  for (const event of events.toSorted((a, b) => b.start.latest - a.start.latest)) {
    const group = groups.findLast((some) => isAlike(some[0]!, event));
    if (group) group.push(event);
    else groups.push([event]);
  }
  return groups
    .flatMap((group) => (group.length >= ENOUGH ? [group] : group.map((event) => [event])))
    .map((group) => ({ id: group[0]!.id, events: group }))
    .sort((a, b) => b.events[0]!.start.latest - a.events[0]!.start.latest);
}

const isAlike = (a: EventView, b: EventView): boolean =>
  a.kind === b.kind &&
  a.cause === b.cause &&
  a.certainty === b.certainty &&
  (a.end === null) === (b.end === null) &&
  a.start.latest - b.start.latest <= TOGETHER;
