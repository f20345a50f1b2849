import { SECOND } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import type { UnitEdge } from '../../shared/inference/edge.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { Case } from './case.ts';
import { matchEvents, timingError, type Pair } from './match.ts';
import { isObservable } from './observable.ts';
import type { Concluded } from './run-case.ts';
import type { Steps } from './trace.ts';

/** Counts of one kind of event (by cause where it has several) in one setup. */
export interface KindTally {
  /** true events that count, and those of them that this wiring and reporting can show */
  truths: number;
  observable: number;
  /** of the observable: found */
  certain: number;
  probable: number;
  /** of the observable: only as possible, or not at all */
  onlyPossible: number;
  missed: number;
  /** of those that can't be seen: found all the same */
  unforeseen: number;
  falseCertain: number;
  falseProbable: number;
  falsePossible: number;
  /** found as certain or probable, with a cause at least probable: right, wrong */
  causeRight: number;
  causeWrong: number;
  /** the cause was called certain, and wasn't it */
  causeFalselyCertain: number;
  /** found, but its cause open */
  causeOpen: number;
  readonly timing: number[];
  readonly toldAfter: number[];
}

export interface SetupTally {
  histories: number;
  unitDays: number;
  rows: number;
  /** published spans of what is at least probable that were held against the true instant, and those that missed it */
  spans: number;
  spansMissed: number;
  readonly kinds: Map<string, KindTally>;
  /** what was falsely certain or outside its span, to be looked at: seed and words */
  readonly examples: string[];
  readonly isShown: (line: string) => boolean;
}

export const newTally = (isShown: (line: string) => boolean = () => true): SetupTally => ({
  isShown,
  histories: 0,
  unitDays: 0,
  rows: 0,
  spans: 0,
  spansMissed: 0,
  kinds: new Map(),
  examples: [],
});

const newKind = (): KindTally => ({
  truths: 0,
  observable: 0,
  certain: 0,
  probable: 0,
  onlyPossible: 0,
  missed: 0,
  unforeseen: 0,
  falseCertain: 0,
  falseProbable: 0,
  falsePossible: 0,
  causeRight: 0,
  causeWrong: 0,
  causeFalselyCertain: 0,
  causeOpen: 0,
  timing: [],
  toldAfter: [],
});

function kindOf(tally: SetupTally, kind: string, cause: string | null): KindTally {
  const key = kind === 'short-cycle' || kind === 'alarm-circuit-fault' ? `${kind}: ${cause ?? 'any'}` : kind;
  let found = tally.kinds.get(key);
  if (!found) tally.kinds.set(key, (found = newKind()));
  return found;
}

/** ± this a start may lie outside the published span and still be the same event, s */
export const RESOLUTION = 0.1;
/** kinds that this bench has no labels for */
const UNLABELLED: ReadonlySet<string> = new Set(['telemetry-gap', 'control-voltage-out-of-range']);

export function count(
  tally: SetupTally,
  one: Case,
  { events, edges }: Concluded,
  toldAfter: ReadonlyMap<string, number> | null,
): void {
  tally.histories++;
  tally.unitDays += (one.to - one.from) / SECOND / 86_400;
  tally.rows += one.page.length;
  const truths = one.truths.filter(({ start }) => start < one.to);
  const judged = events.filter(({ kind }) => !UNLABELLED.has(kind));
  const { pairs, invented } = matchEvents(truths, judged, RESOLUTION);
  for (const pair of pairs) countPair(tally, one, pair, toldAfter);
  for (const event of invented) if (!one.unjudged.has(event.kind)) countInvented(tally, one, event);
  for (const edge of edges) countEdge(tally, one, edge);
}

function countPair(
  tally: SetupTally,
  one: Case,
  { truth, told }: Pair,
  after: ReadonlyMap<string, number> | null,
) {
  if (told && told.certainty !== 'possible' && truth.needed && !one.blinded) {
    countSpan(tally, one, nearest(truth, told.start), told.start, told);
    const lasted = typeof truth.end === 'number' && truth.end < one.to && told.end !== null;
    if (lasted) countSpan(tally, one, truth.end!, told.end!, told);
  }
  if (!truth.needed || one.blinded) return;
  const kind = kindOf(tally, truth.kind, truth.cause);
  kind.truths++;
  const seen = isObservable(truth, one.setup) && !one.dead.some((gap) => touches(gap, truth));
  if (!seen) {
    if (told && told.certainty !== 'possible') kind.unforeseen++;
  } else {
    kind.observable++;
    if (!told) kind.missed++;
    else if (told.certainty === 'possible') kind.onlyPossible++;
    else kind[told.certainty]++;
  }
  if (!told || told.certainty === 'possible') return;
  kind.timing.push(timingError(truth, told));
  const delay = after?.get(told.id);
  if (delay !== undefined) kind.toldAfter.push(delay);
  countCause(kind, tally, one, truth.cause, told);
}

/** Of the starts that it may be read to have, the one in the span. */
const nearest = ({ start, orFrom }: Pair['truth'], span: Span): number =>
  [start, ...orFrom].find((at) => at >= span.earliest && at <= span.latest) ?? start;

/** A dead gateway leaves a part of the event unseen. */
function touches(gap: { readonly from: number; readonly to: number }, truth: Pair['truth']): boolean {
  const lead = 400 * SECOND;
  const end = typeof truth.end === 'number' ? truth.end : truth.start;
  return gap.from - lead <= end && truth.start <= gap.to + lead;
}

function countCause(
  kind: KindTally,
  tally: SetupTally,
  one: Case,
  cause: string | null,
  told: EventDraft,
): void {
  if (cause === null || told.causeCertainty === null || told.cause === null) return;
  if (told.causeCertainty === 'possible') kind.causeOpen++;
  else if (told.cause === cause) kind.causeRight++;
  else {
    kind.causeWrong++;
    if (told.causeCertainty !== 'certain') return;
    kind.causeFalselyCertain++;
    example(tally, one, `cause ${told.cause} for ${cause} of`, told);
  }
}

function countInvented(tally: SetupTally, one: Case, event: EventDraft): void {
  const kind = kindOf(tally, event.kind, event.cause);
  if (event.certainty === 'possible') kind.falsePossible++;
  else if (event.certainty === 'probable') kind.falseProbable++;
  else {
    kind.falseCertain++;
    example(tally, one, 'false', event);
  }
}

function countSpan(tally: SetupTally, one: Case, at: number, span: Span, event: EventDraft): void {
  tally.spans++;
  if (at >= span.earliest && at <= span.latest) return;
  tally.spansMissed++;
  example(tally, one, `span misses ${((at - one.from) / SECOND).toFixed(2)} of`, event);
}

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
function countEdge(tally: SetupTally, one: Case, edge: UnitEdge): void {
  const row = EDGES[edge.kind];
  if (!row || !edge.certain || one.blinded || one.setup.points.every((p) => p['sense'] === 'upstream'))
    return;
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

function example(tally: SetupTally, one: Case, what: string, event: EventDraft): void {
  const at = (event.start.latest - one.from) / SECOND;
  const cause = event.cause ? ` ${event.cause}` : '';
  show(tally, `seed ${one.seed}: ${what} ${event.kind}${cause} at ${at.toFixed(2)}`);
}

const MOST_EXAMPLES = 200;
function show(tally: SetupTally, line: string): void {
  if (tally.examples.length < MOST_EXAMPLES && tally.isShown(line)) tally.examples.push(line);
}
