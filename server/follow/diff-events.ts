import { isDeepStrictEqual } from 'node:util';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';

/** An event that stands, as the store has it. */
export interface StandingEvent {
  readonly event: EventDraft;
  readonly settledAt: Instant | null;
}

/** An event as the newest fold has it. */
export interface FoldedEvent {
  readonly event: EventDraft;
  readonly settledAt: Instant | null;
}

export interface EventChanges {
  /** new, or back again after they had been withdrawn */
  readonly added: readonly (FoldedEvent & { readonly replaces: readonly string[] })[];
  /** same id, other content */
  readonly amended: readonly (FoldedEvent & { readonly was: EventDraft })[];
  /** same content, only settled now (or no longer) */
  readonly settled: readonly FoldedEvent[];
  readonly withdrawn: readonly { readonly id: string; readonly replacedBy: string | null }[];
}

/**
 * What has changed between the events that stand and those that the fold gives now (contract section 4). Matched by id;
 * what is gone is replaced by the new event of the same subject, kind and discriminator with the greatest overlap, each by
 * one at most. The events of one subject only.
 */
export function diffEvents(
  standing: readonly StandingEvent[],
  folded: readonly FoldedEvent[],
  options: { readonly withdraw: boolean },
): EventChanges {
  const before = new Map(standing.map((one) => [one.event.id, one]));
  const after = new Map(folded.map((one) => [one.event.id, one]));
  const fresh = [...after.values()].filter(({ event }) => !before.has(event.id));
  const gone = options.withdraw ? standing.filter(({ event }) => !after.has(event.id)) : [];
  const replacing = matchReplaced(
    gone.map(({ event }) => event),
    fresh.map(({ event }) => event),
  );
  const replaced = new Map([...replacing].map(([old, by]) => [by, old]));
  const kept = [...after.values()].flatMap((now) => {
    const was = before.get(now.event.id);
    return was ? [{ now, was, same: sameEvent(was.event, now.event) }] : [];
  });
  return {
    added: fresh.map((one) => ({ ...one, replaces: listOf(replaced.get(one.event.id)) })),
    amended: kept.filter(({ same }) => !same).map(({ now, was }) => ({ ...now, was: was.event })),
    settled: kept
      .filter(({ same, now, was }) => same && now.settledAt !== was.settledAt)
      .map(({ now }) => now),
    withdrawn: gone.map(({ event }) => ({ id: event.id, replacedBy: replacing.get(event.id) ?? null })),
  };
}

const listOf = (id: string | undefined): string[] => (id === undefined ? [] : [id]);

/** As they would be read back: JSON has no `undefined`. */
const sameEvent = (a: EventDraft, b: EventDraft): boolean =>
  isDeepStrictEqual(JSON.parse(JSON.stringify(a)), JSON.parse(JSON.stringify(b)));

/** Events that don't overlap at all may still be one that moved, if no farther than this [from memory]. */
const MOVED_AT_MOST = seconds(60);

/** old id → the id that takes its place */
function matchReplaced(gone: readonly EventDraft[], fresh: readonly EventDraft[]): Map<string, string> {
  const pairs = gone.flatMap((old) =>
    fresh
      .filter((one) => one.kind === old.kind && one.discriminator === old.discriminator)
      .map((one) => ({ old, one, shared: overlapOf(old, one) }))
      .filter(({ shared }) => shared >= -MOVED_AT_MOST),
  );
  pairs.sort((a, b) => b.shared - a.shared || order(a.old.id, b.old.id) || order(a.one.id, b.one.id));
  const replacing = new Map<string, string>();
  const taken = new Set<string>();
  for (const { old, one } of pairs) {
    if (replacing.has(old.id) || taken.has(one.id)) continue;
    replacing.set(old.id, one.id);
    taken.add(one.id);
  }
  return replacing;
}

const order = (a: string, b: string): number => (a < b ? -1 : a > b ? 1 : 0);

/** How much of time two events share; negative: how far they are apart. An open end reaches as far as the other needs. */
function overlapOf(a: EventDraft, b: EventDraft): number {
  const end = Math.min(a.end?.latest ?? Infinity, b.end?.latest ?? Infinity);
  const start = Math.max(a.start.earliest, b.start.earliest);
  return end === Infinity ? Number.MAX_SAFE_INTEGER - Math.abs(a.start.latest - b.start.latest) : end - start;
}
