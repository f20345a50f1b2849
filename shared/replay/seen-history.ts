import type { Instant } from '../base/instant.ts';
import type { Folded } from '../inference/driver.ts';
import type { Fold } from '../inference/fold.ts';
import { chainEnd, closeChain, type Edge, type Value } from '../inference/track.ts';
import { newBelief, type Belief } from '../inference/unit/belief.ts';
import { unitFold } from '../inference/unit/fold.ts';
import { ROLES, type Role } from '../inference/unit/wiring.ts';

/**
 * What was seen of a unit, as interval-true edges of each of its signals: the very edges that its fold decides from
 * (inference/track.ts), kept instead of decided.
 */
export interface SeenHistory {
  readonly edges: Readonly<Record<Role, readonly Edge[]>>;
  /** everything at or before is known */
  readonly through: Instant;
}

interface Collected {
  readonly belief: Belief;
  readonly edges: Record<Role, Edge[]>;
}

function nothingSeen(): Collected {
  const edges = Object.fromEntries(ROLES.map((role) => [role, [] as Edge[]])) as Record<Role, Edge[]>;
  return { belief: newBelief(), edges };
}

/** A fold that takes samples as the unit's fold does and decides nothing. */
export const seenFold: Fold<Collected> = {
  kind: 'unit',
  version: unitFold.version,
  start: nothingSeen,
  take(seen, context, source, t, value, quality) {
    unitFold.take(seen.belief, context, source, t, value, quality);
    keep(seen);
  },
  silent(seen, context, source, at) {
    unitFold.silent(seen.belief, context, source, at);
    keep(seen);
  },
  resumed(seen, context, source, at) {
    unitFold.resumed(seen.belief, context, source, at);
    keep(seen);
  },
  reconfigured(seen, context, at) {
    unitFold.reconfigured(seen.belief, context, at);
    keep(seen);
  },
  waiting: ({ belief }) => {
    const ends = ROLES.flatMap((role) => chainEnd(belief.tracks[role]) ?? []);
    return ends.length === 0 ? null : Math.min(...ends);
  },
  settle: (seen, _context, frontier) => closeChains(seen, frontier),
  conclude: () => ({}),
};

/** The edges that `seenFold` has come to, from its state as the driver keeps it. */
export function seenHistory({ state, through }: Folded): SeenHistory {
  const collected = (state as { readonly fold: Collected } | null)?.fold ?? nothingSeen();
  closeChains(collected, through);
  return { edges: collected.edges, through };
}

function keep({ belief, edges }: Collected): void {
  for (const { role, edge } of belief.queue) edges[role].push(edge);
  belief.queue = [];
  belief.gapsOver = [];
}

function closeChains({ belief, edges }: Collected, by: Instant): void {
  for (const role of ROLES) {
    const end = chainEnd(belief.tracks[role]);
    if (end !== null && end <= by) edges[role].push(...closeChain(belief.tracks[role]));
  }
}

/** The value at an instant that no edge's interval holds; within one, the value before it. Null: not known. */
export const valueAt = (edges: readonly Edge[], instant: Instant): Value =>
  lastEdge(edges, instant)?.to ?? null;

/** The newest edge that is over by then; null: none is. */
export const lastEdge = (edges: readonly Edge[], instant: Instant): Edge | null =>
  edges[firstEndingAfter(edges, instant) - 1] ?? null;

/** The edges that may lie after `from` and at or before `to`, oldest first. */
export function edgesBetween(edges: readonly Edge[], from: Instant, to: Instant): Edge[] {
  const found: Edge[] = [];
  for (let i = firstEndingAfter(edges, from); i < edges.length && edges[i]!.earliest <= to; i++)
    found.push(edges[i]!);
  return found;
}

/** Edges lie in the order of their latest instants. */
function firstEndingAfter(edges: readonly Edge[], instant: Instant): number {
  let low = 0;
  let high = edges.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (edges[middle]!.latest <= instant) low = middle + 1;
    else high = middle;
  }
  return low;
}
