import { isDeepStrictEqual } from 'node:util';
import type { Instant } from '../../shared/base/instant.ts';
import { edgeAt, type UnitEdge, type UnitEdgeKind } from '../../shared/inference/edge.ts';

/** An edge as the store has it: where it stands in its unit's order, and when it was settled. */
export interface PlacedEdge {
  readonly t: Instant;
  readonly place: number;
  readonly settledAt: Instant | null;
  readonly edge: UnitEdge;
}

export interface EdgeChanges {
  readonly gone: readonly PlacedEdge[];
  readonly put: readonly PlacedEdge[];
  /** the earliest edge, old or new, that isn't as it was; null: panel and space have nothing to do */
  readonly earliest: Instant | null;
}

/** Order of the edges of one unit at one instant: a matter of the edge alone, never of when it was found. */
const KINDS: Record<UnitEdgeKind, number> = {
  known: 0,
  'power-back': 1,
  'call-on': 2,
  free: 3,
  released: 4,
  recovered: 5,
  start: 6,
  stop: 7,
  failed: 8,
  held: 9,
  latched: 10,
  'call-off': 11,
  'power-away': 12,
  unknown: 13,
};
const SAME_KIND_BOUND = 1000;

/** Places for edges: by kind, then earliest, then content. */
export function placeEdges(
  edges: readonly { readonly edge: UnitEdge; readonly settledAt: Instant | null }[],
): PlacedEdge[] {
  const sorted = [...edges].sort((a, b) => compare(a.edge, b.edge));
  const placed: PlacedEdge[] = [];
  let number = 0;
  for (const { edge, settledAt } of sorted) {
    const last = placed.at(-1);
    const follows = last && last.t === edgeAt(edge) && last.edge.kind === edge.kind;
    number = follows ? number + 1 : 0;
    placed.push({ t: edgeAt(edge), place: KINDS[edge.kind] * SAME_KIND_BOUND + number, settledAt, edge });
  }
  return placed;
}

function compare(a: UnitEdge, b: UnitEdge): number {
  const byTime = edgeAt(a) - edgeAt(b) || KINDS[a.kind] - KINDS[b.kind] || a.span.earliest - b.span.earliest;
  if (byTime !== 0) return byTime;
  const [left, right] = [JSON.stringify(a), JSON.stringify(b)];
  return left < right ? -1 : left > right ? 1 : 0;
}

export function diffEdges(before: readonly PlacedEdge[], after: readonly PlacedEdge[]): EdgeChanges {
  const key = ({ t, place }: PlacedEdge) => `${t}/${place}`;
  const was = new Map(before.map((one) => [key(one), one]));
  const is = new Map(after.map((one) => [key(one), one]));
  const gone = before.filter((one) => !is.has(key(one)));
  const put: PlacedEdge[] = [];
  const changed: Instant[] = gone.map(({ t }) => t);
  for (const one of after) {
    const old = was.get(key(one));
    const same = old !== undefined && sameEdge(old.edge, one.edge);
    if (!same) changed.push(one.t);
    if (!same || old.settledAt !== one.settledAt) put.push(one);
  }
  return { gone, put, earliest: changed.length === 0 ? null : least(changed) };
}

const least = (instants: readonly Instant[]): Instant => instants.reduce((a, b) => Math.min(a, b));

const sameEdge = (a: UnitEdge, b: UnitEdge): boolean =>
  isDeepStrictEqual(JSON.parse(JSON.stringify(a)), JSON.parse(JSON.stringify(b)));
