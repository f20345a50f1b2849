import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import type { Edge, Value } from '../inference/track.ts';
import { AWAY, HEALTHY, INPUT_ROLES, type Inputs } from './inputs.ts';
import { edgesBetween, lastEdge, valueAt } from './seen-history.ts';

/**
 * Where may a replay begin? A control forgets everything when its power returns, and when it has had no call for longer than
 * every delay; there the seen control and the replayed one stand alike, whatever had been before. Between two such instants
 * a replay is a segment of its own, so that what the record can't carry in one leaves the next untouched.
 */
export interface Segment {
  readonly from: Instant;
  readonly to: Instant;
  /** how it begins: power returned, no call for long, or running when the record's stretch began */
  readonly begins: 'power-back' | 'settled' | 'running';
  /** it ends where one of its signals isn't known any more */
  readonly lost: boolean;
}

export interface SegmentLimits {
  readonly from: Instant;
  readonly through: Instant;
  /** longer than every delay of both controls, s */
  readonly settleSeconds: number;
  /** longer than every hold-up, s */
  readonly holdUpSeconds: number;
}

interface Begin {
  readonly at: Instant;
  readonly begins: Segment['begins'];
}

export function segmentsOf(inputs: Inputs, output: readonly Edge[], limits: SegmentLimits): Segment[] {
  const known = allOf(inputs, output);
  const losses = known
    .flatMap((edges) => edges.filter(({ from, to }) => to === null && from !== null))
    .map(({ earliest }) => earliest)
    .sort((a, b) => a - b);
  const lossAfter = (at: Instant) => losses.find((lost) => lost >= at) ?? Infinity;
  const alike = [...powerBacks(inputs, known, limits), ...settled(inputs, output, limits)];
  const runs = seenRunning(inputs, output, known, limits);
  const begins = [...alike, ...runs]
    .filter(({ at }) => at >= limits.from && at < limits.through)
    .sort((a, b) => a.at - b.at);
  const found: Segment[] = [];
  for (const { at, begins: how } of begins) {
    const last = found.at(-1);
    // a run is something to begin from only where nothing else has begun
    if (how === 'running' && last && last.to > at) continue;
    if (last && last.to > at) found[found.length - 1] = { ...last, to: at, lost: false };
    const to = Math.min(limits.through, lossAfter(at));
    if (to > at) found.push({ from: at, to, begins: how, lost: to < limits.through });
  }
  return found.filter(({ from, to }) => to > from);
}

const allOf = ({ edges }: Inputs, output: readonly Edge[]): (readonly Edge[])[] => [
  output,
  ...INPUT_ROLES.flatMap((role) => (edges[role] ? [edges[role]] : [])),
];

const allKnown = (known: readonly (readonly Edge[])[], at: Instant): boolean =>
  known.every((edges) => valueAt(edges, at) !== null);

/** The compressor was seen running on its call: when all was first known, or at a start with no trip before in its call. */
function seenRunning(
  { edges }: Inputs,
  output: readonly Edge[],
  known: readonly (readonly Edge[])[],
  { from, through }: SegmentLimits,
): Begin[] {
  const call = edges.call ?? [];
  const firsts = known.map((each) => each.find(({ to }) => to !== null)?.latest ?? Infinity);
  const starts = output.filter((edge) => edge.from === 0 && edge.to === 1).map(({ latest }) => latest);
  const runs = (at: Instant): boolean =>
    at < through && allKnown(known, at) && valueAt(output, at) === 1 && valueAt(call, at) === 1;
  const quiet = (at: Instant): boolean =>
    [edges.high, edges.low].every((each) => !each || valueAt(each, at) === 0) &&
    (!edges.supply || valueAt(edges.supply, at) === HEALTHY);
  const untripped = (at: Instant): boolean => {
    const called = lastEdge(call, at);
    if (!called || called.from !== 0) return false;
    return [edges.high, edges.low].every((each) => edgesBetween(each ?? [], called.latest, at).length === 0);
  };
  const first = Math.max(from, ...firsts);
  return [first, ...starts.filter(untripped)]
    .filter((at) => runs(at) && quiet(at))
    .map((at) => ({ at, begins: 'running' }));
}

/** Control power was away for longer than any hold-up and has come back. */
function powerBacks(
  { edges }: Inputs,
  known: readonly (readonly Edge[])[],
  { holdUpSeconds }: SegmentLimits,
): Begin[] {
  const supply = edges.supply ?? [];
  const others = known.filter((each) => each !== supply);
  return supply.flatMap((edge, i) => {
    const away = supply[i - 1];
    if (edge.from !== AWAY || edge.to === null || away?.to !== AWAY) return [];
    const short = inSeconds(edge.earliest - away.latest) < holdUpSeconds;
    if (short || edge.earliest < away.latest || !allKnown(others, edge.earliest)) return [];
    return [{ at: edge.earliest, begins: 'power-back' as const }];
  });
}

/** No call and no output for longer than every delay, with power. */
function settled({ edges }: Inputs, output: readonly Edge[], limits: SegmentLimits): Begin[] {
  const wait = seconds(limits.settleSeconds);
  const need: [readonly Edge[], Value][] = [
    [edges.call ?? [], 0],
    [output, 0],
    ...(edges.supply ? [[edges.supply, HEALTHY] as [readonly Edge[], Value]] : []),
  ];
  const found: Begin[] = [];
  for (const { latest } of need.flatMap(([each]) => each)) {
    const idle = need.every(([each, value]) => holdsFor(each, value, latest, latest + wait));
    const quiet = [edges.high, edges.low].every((each) => !each || valueAt(each, latest + wait) !== null);
    if (idle && quiet) found.push({ at: latest + wait, begins: 'settled' });
  }
  return found;
}

/** It has this value at `from` and no edge of it may lie in (from, to]. */
function holdsFor(edges: readonly Edge[], value: Value, from: Instant, to: Instant): boolean {
  if (valueAt(edges, from) !== value) return false;
  return edgesBetween(edges, from, to).length === 0;
}
