import { seconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { From } from './rules.ts';

/** Events of one subject that together are more than each: the newest, with since when and until when it holds. */
export interface Counted {
  readonly event: EventDraft;
  readonly end: Span | null;
  readonly ids: readonly string[];
}

/**
 * So many within so long, for each subject (handbook 7: "second soft lockout in 24 h", "short cycling, ≥ 3 certain in an
 * hour"). It begins with the event that made them enough and holds until none has begun for `quietSeconds`; 0: while the
 * newest of them lasts.
 */
export function countedIn(
  events: readonly EventDraft[],
  count: NonNullable<From['count']>,
  through: Instant,
): Counted[] {
  return [...bySubject(events).values()].flatMap((some) => {
    const enough = some.findLastIndex((_, i) => isEnough(some, i, count));
    if (enough < 0) return [];
    const ids = some.slice(enough - count.least + 1).map(({ id }) => id);
    const newest = some.at(-1)!;
    if (count.quietSeconds === 0) return [{ event: some[enough]!, end: newest.end, ids }];
    const quietFrom = newest.start.latest + seconds(count.quietSeconds);
    const first = some.find((_, i) => isEnough(some, i, count))!;
    const end = quietFrom <= through ? { earliest: quietFrom, latest: quietFrom } : null;
    return [{ event: first, end, ids }];
  });
}

/** Enough of them began within the time that ends with the i-th: surely, so from the earliest of the first. */
function isEnough(some: readonly EventDraft[], i: number, count: NonNullable<From['count']>): boolean {
  const first = some[i - count.least + 1];
  return first !== undefined && some[i]!.start.latest - first.start.earliest <= seconds(count.withinSeconds);
}

function bySubject(events: readonly EventDraft[]): Map<string, EventDraft[]> {
  const found = new Map<string, EventDraft[]>();
  const sorted = events.toSorted((a, b) => a.start.latest - b.start.latest || (a.id < b.id ? -1 : 1));
  for (const event of sorted) {
    const subject = event.unit ?? event.space ?? event.panel ?? 'site';
    found.set(subject, [...(found.get(subject) ?? []), event]);
  }
  return found;
}
