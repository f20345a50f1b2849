import type { Instant } from '../base/instant.ts';
import { edgeAt, type UnitEdge, type UnitEdgeKind } from './edge.ts';

/** An edge as the store has it: where it stands in its unit's order, and when it was settled. */
export interface PlacedEdge {
  readonly t: Instant;
  readonly place: number;
  readonly settledAt: Instant | null;
  readonly edge: UnitEdge;
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
