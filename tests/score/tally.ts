import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { Span } from '../../shared/base/span.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { rankOf, type Known } from '../../shared/inference/observability/knowable.ts';
import { matchEvents, timingError, type Pair } from './match.ts';
import type { TrueEvent } from './true-event.ts';

/** Counts of one kind of event (by cause where it has several) in one setup. */
export interface KindTally {
  /** true events that count, and those of them that can be known, by the tool's own statement */
  truths: number;
  observable: number;
  /** of the observable: found */
  certain: number;
  probable: number;
  /** of the observable: only as possible, or not at all */
  onlyPossible: number;
  missed: number;
  /** of those that can't be known: found all the same */
  unforeseen: number;
  /** of those that can be known for certain by the statement: published so */
  saidCertain: number;
  foundCertain: number;
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
  /** published; of these, more surely than the unit's own statement says can be: as certain, as probable */
  published: number;
  beyondCertain: number;
  beyondProbable: number;
  /** simultaneous starts published as certain; those whose true starts aren't closer than the minimum */
  together: number;
  falselyTogether: number;
  /** histories delivered late and in another order through a store; those that came to other events */
  late: number;
  lateUnequal: number;
  readonly kinds: Map<string, KindTally>;
  /** what was falsely certain or outside its span, to be looked at: seed and words */
  readonly examples: string[];
  readonly isShown: (line: string) => boolean;
}

export const newTally = (isShown: (line: string) => boolean = () => true): SetupTally => ({
  histories: 0,
  unitDays: 0,
  rows: 0,
  spans: 0,
  spansMissed: 0,
  published: 0,
  beyondCertain: 0,
  beyondProbable: 0,
  together: 0,
  falselyTogether: 0,
  late: 0,
  lateUnequal: 0,
  kinds: new Map(),
  examples: [],
  isShown,
});

export const newKind = (): KindTally => ({
  truths: 0,
  observable: 0,
  certain: 0,
  probable: 0,
  onlyPossible: 0,
  missed: 0,
  unforeseen: 0,
  saidCertain: 0,
  foundCertain: 0,
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

/** Kinds whose causes are different things, each with a row of its own. */
const BY_CAUSE: ReadonlySet<string> = new Set(['short-cycle', 'alarm-circuit-fault', 'loss-of-cooling']);

function kindOf(tally: SetupTally, kind: string, cause: string | null): KindTally {
  const key = BY_CAUSE.has(kind) ? `${kind}: ${cause ?? 'any'}` : kind;
  let found = tally.kinds.get(key);
  if (!found) tally.kinds.set(key, (found = newKind()));
  return found;
}

/** ± this a start may lie outside the published span and still be the same event, s */
export const RESOLUTION = 0.1;
/** kinds that no history has labels for; what the statement says of them is held against them all the same */
const UNLABELLED: ReadonlySet<string> = new Set([
  'telemetry-gap',
  'control-voltage-out-of-range',
  'weak-cooling',
  'voltage-sag',
  'voltage-swell',
  'generator-supply',
]);

/** One subject's true and published events, and how they are to be judged. */
export interface Judged {
  readonly seed: number;
  readonly from: Instant;
  readonly to: Instant;
  readonly device: string;
  readonly truths: readonly TrueEvent[];
  readonly told: readonly EventDraft[];
  /** a sense wire is off: what depends on it isn't missed, but nothing may be told falsely */
  readonly blinded: boolean;
  /** kinds of which more may rightly be told than has labels */
  readonly unjudged: ReadonlySet<string>;
  /** how surely a true event can be known, by the tool's own statement */
  says(truth: TrueEvent): Known;
  /** what of a published event goes beyond that statement */
  beyond(event: EventDraft): 'certain' | 'probable' | null;
  /** s from a start until it was told, by event id; null: not measured here */
  readonly toldAfter: ReadonlyMap<string, number> | null;
}

export function count(tally: SetupTally, one: Judged): void {
  const truths = one.truths.filter(({ start }) => start < one.to);
  const judged = one.told.filter(({ kind }) => !UNLABELLED.has(kind));
  const { pairs, invented } = matchEvents(truths, judged, RESOLUTION);
  for (const pair of pairs) countPair(tally, one, pair);
  for (const event of invented) if (!one.unjudged.has(event.kind)) countInvented(tally, one, event);
  for (const event of one.told) countBeyond(tally, one, event);
}

/** What can't be known is never claimed: judged over everything published, true or not. */
function countBeyond(tally: SetupTally, one: Judged, event: EventDraft): void {
  tally.published++;
  const claimed = one.beyond(event);
  if (claimed === null) return;
  if (claimed === 'certain') tally.beyondCertain++;
  else tally.beyondProbable++;
  example(tally, one, `beyond the statement, ${claimed}:`, event);
}

function countPair(tally: SetupTally, one: Judged, { truth, told }: Pair): void {
  if (!truth.needed || one.blinded) return;
  const isTold = told !== null && told.certainty !== 'possible';
  if (isTold) {
    countSpan(tally, one, nearest(truth, told.start), told.start, told);
    const end = endIn(one, truth, told);
    if (end !== null && end < one.to) countSpan(tally, one, end, told.end!, told);
  }
  const kind = kindOf(tally, truth.kind, truth.cause);
  kind.truths++;
  const says = one.says(truth);
  countFound(kind, says, told);
  if (!isTold && rankOf(says) >= rankOf('probable')) example(tally, one, 'missed', missed(truth));
  if (!isTold) return;
  kind.timing.push(timingError(truth, told));
  const delay = one.toldAfter?.get(told.id);
  if (delay !== undefined) kind.toldAfter.push(delay);
  countCause(kind, tally, one, truth.cause, told);
}

/** Outages between which power was back too shortly to be seen are one: it ends with the last of them. */
function endIn({ truths }: Judged, truth: TrueEvent, { end }: EventDraft): Instant | null {
  if (typeof truth.end !== 'number' || end === null) return null;
  if (truth.kind !== 'power-loss') return truth.end;
  const ends = truths.flatMap((one) =>
    one.kind === 'power-loss' && one.start >= truth.start ? [one.end] : [],
  );
  return ends.find((at) => typeof at === 'number' && at >= end.earliest && at <= end.latest) ?? truth.end;
}

function countFound(kind: KindTally, says: Known, told: EventDraft | null): void {
  if (says === 'certain') {
    kind.saidCertain++;
    if (told?.certainty === 'certain') kind.foundCertain++;
  }
  if (rankOf(says) < rankOf('probable')) {
    if (told && told.certainty !== 'possible') kind.unforeseen++;
    return;
  }
  kind.observable++;
  if (!told) kind.missed++;
  else if (told.certainty === 'possible') kind.onlyPossible++;
  else kind[told.certainty]++;
}

/** Of the starts that it may be read to have, the one in the span. */
const nearest = ({ start, orFrom }: Pair['truth'], span: Span): number =>
  [start, ...orFrom].find((at) => at >= span.earliest && at <= span.latest) ?? start;

function countCause(
  kind: KindTally,
  tally: SetupTally,
  one: Judged,
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

function countInvented(tally: SetupTally, one: Judged, event: EventDraft): void {
  const kind = kindOf(tally, event.kind, event.cause);
  if (event.certainty === 'possible') kind.falsePossible++;
  else if (event.certainty === 'probable') kind.falseProbable++;
  else {
    kind.falseCertain++;
    example(tally, one, 'false', event);
  }
}

function countSpan(tally: SetupTally, one: Judged, at: number, span: Span, event: EventDraft): void {
  tally.spans++;
  if (at >= span.earliest && at <= span.latest) return;
  tally.spansMissed++;
  example(tally, one, `span misses ${((at - one.from) / SECOND).toFixed(2)} of`, event);
}

const missed = ({ kind, cause, start }: TrueEvent): Named => ({ kind, cause, start: { latest: start } });

type Named = Pick<EventDraft, 'kind' | 'cause'> & { readonly start: { readonly latest: Instant } };

export function example(
  tally: SetupTally,
  one: Pick<Judged, 'seed' | 'from' | 'device'>,
  what: string,
  event: Named,
): void {
  const at = (event.start.latest - one.from) / SECOND;
  const cause = event.cause ? ` ${event.cause}` : '';
  show(tally, `seed ${one.seed}, ${one.device}: ${what} ${event.kind}${cause} at ${at.toFixed(2)}`);
}

const MOST_EXAMPLES = 200;
export function show(tally: SetupTally, line: string): void {
  if (tally.examples.length < MOST_EXAMPLES && tally.isShown(line)) tally.examples.push(line);
}
