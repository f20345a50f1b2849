import { SECOND } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import type { UnitEdge } from '../../shared/inference/edge.ts';
import type { Case } from './case.ts';
import { show, type SetupTally } from './tally.ts';
import type { Steps } from './trace.ts';

const EDGES: Readonly<
  Record<string, readonly [signal: 'output' | 'call' | 'volts', to: (value: number) => boolean]>
> = {
  start: ['output', (value) => value === 1],
  stop: ['output', (value) => value === 0],
  'call-on': ['call', (value) => value === 1],
  'call-off': ['call', (value) => value === 0],
  'power-away': ['volts', (value) => value < 5],
  'power-back': ['volts', (value) => value >= 5],
};

/** Every edge that the unit tells its panel and space must hold a true change of that kind. */
export function countEdge(tally: SetupTally, one: Case, edge: UnitEdge): void {
  const row = EDGES[edge.kind];
  if (!row || !edge.certain || one.blinded) return;
  const [signal, to] = row;
  // labelled in the first gateway's time
  if (signal === 'volts' && one.setup.twoClocks) return;
  if (signal === 'call' && one.setup.points.some((point) => point['sense'] === 'upstream')) return;
  tally.spans++;
  if (hasChange(one.trace[signal], edge.span, to)) return;
  tally.spansMissed++;
  const at = (edge.span.latest - one.from) / SECOND;
  show(tally, `seed ${one.seed}: no ${edge.kind} in span to ${at.toFixed(2)}`);
}

const hasChange = (steps: Steps, { earliest, latest }: Span, to: (value: number) => boolean): boolean =>
  steps.at.some((at, i) => at >= earliest && at <= latest && to(steps.value[i]!));
