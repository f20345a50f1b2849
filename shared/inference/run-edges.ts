import type { RunEdge } from '../cooling/run-times.ts';
import { edgeOf, type UnitEdge, type UnitEdgeKind } from './edge.ts';

/** What a unit told of its runs, out of all its edges, for counting (cooling/run-times.ts). */
export const runEdgesOf = (edges: readonly UnitEdge[]): RunEdge[] =>
  edges.flatMap((edge) => {
    const to = TOLD[edge.kind] ?? knowledge(edge);
    return to === null ? [] : [{ span: edge.span, to }];
  });

const TOLD: Partial<Record<UnitEdgeKind, RunEdge['to']>> = { start: 'on', stop: 'off' };

function knowledge(edge: UnitEdge): RunEdge['to'] | null {
  if (edgeOf(edge) !== 'run') return null;
  if (edge.kind === 'unknown') return 'unknown';
  return edge.kind === 'known' ? (edge.detail?.['now'] === 1 ? 'on' : 'off') : null;
}
