import { isDeepStrictEqual } from 'node:util';
import type { Instant } from '../../shared/base/instant.ts';
import type { UnitEdge } from '../../shared/inference/edge.ts';
import type { PlacedEdge } from '../../shared/inference/edge-order.ts';

export interface EdgeChanges {
  readonly gone: readonly PlacedEdge[];
  readonly put: readonly PlacedEdge[];
  /** the earliest edge, old or new, that isn't as it was; null: panel and space have nothing to do */
  readonly earliest: Instant | null;
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
