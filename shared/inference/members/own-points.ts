import type { Instant } from '../../base/instant.ts';
import type { LastSeen } from '../standing.ts';
import {
  chainEnd,
  closeChain,
  lose,
  newTrack,
  regain,
  takeOnChange,
  takePolled,
  type Edge,
  type Track,
  type Value,
} from '../track.ts';
import type { Item, ReadingItem } from './queue.ts';

/**
 * The points that a panel, a space or a site has itself: one track each, of a contact's own state or of where an analog
 * value stands against a threshold, and what telemetry-gap needs.
 */
export interface OwnPoint {
  readonly track: Track;
  /** where it stands after the last closed edge; null: not known */
  level: Value;
  /** µs, while the point reports on change; null: polled */
  resolution: number | null;
  /** newest good value, scaled */
  seen: LastSeen | null;
  /** newest good sample before the point fell silent; null while it isn't silent */
  silentSince: Instant | null;
}

export type OwnPoints = Record<string, OwnPoint>;

export const ownPoint = (points: OwnPoints, key: string): OwnPoint =>
  (points[key] ??= { track: newTrack(), level: null, resolution: null, seen: null, silentSince: null });

/** Takes a reading and, as `level`, where it stands (for a contact the reading itself). Answers the edges it closes. */
export function takeReading(own: OwnPoint, item: ReadingItem, level: number | null): readonly Edge[] {
  own.resolution = item.onChange ? item.resolution : null;
  if (item.value !== null) own.seen = { t: item.t, value: item.value };
  if (item.onChange)
    return entered(own, takeOnChange(own.track, item.t, level, item.resolution, item.debounce, item.present));
  const edge = level === null ? null : takePolled(own.track, item.t, level);
  return entered(own, edge ? [edge] : []);
}

/** The point fell silent, or was heard again: an on-change one holds its last value again, a polled one has a sample coming. */
export function takeKnowledge(own: OwnPoint, item: Item & { kind: 'lost' | 'back' }): readonly Edge[] {
  if (item.kind === 'lost') {
    if (!item.onChange) own.silentSince = item.t;
    return entered(own, lose(own.track, item.t));
  }
  own.silentSince = null;
  return entered(own, item.onChange ? regain(own.track, item.t) : []);
}

function entered(own: OwnPoint, edges: readonly Edge[]): readonly Edge[] {
  const last = edges.at(-1);
  if (last) own.level = last.to;
  return edges;
}

/** When the first open chain of changes can be closed; null if none is open. */
export function nextChainEnd(points: OwnPoints): Instant | null {
  let next: Instant | null = null;
  for (const key in points) {
    const end = chainEnd(points[key]!.track);
    if (end !== null && (next === null || end < next)) next = end;
  }
  return next;
}

/** Closes the chains that have ended by `t`. */
export function closeChains(points: OwnPoints, t: Instant): (readonly [key: string, edge: Edge])[] {
  const closed: (readonly [string, Edge])[] = [];
  for (const key in points) {
    const end = chainEnd(points[key]!.track);
    if (end === null || end > t) continue;
    for (const edge of entered(points[key]!, closeChain(points[key]!.track))) closed.push([key, edge]);
  }
  return closed;
}
