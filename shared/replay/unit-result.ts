import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { UnitEdge } from '../inference/edge.ts';
import type { Certainty, EventDraft, EventKind } from '../inference/event.ts';
import type { FoldContext } from '../inference/fold.ts';
import { contextOf } from '../inference/sources.ts';
import type { Edge } from '../inference/track.ts';
import { unitFold } from '../inference/unit/fold.ts';
import type { SiteHistory, Unit } from '../telemetry/site.ts';
import { compareEvents, type EventDifference } from './compare-events.ts';
import { differencesOf, type UnitDifference } from './differences.ts';
import { foldSubject, strand, type Asking, type Strand, type Stretch } from './fold-subject.ts';
import { controlsOf, isSame, judgedHistory, unitAtEnd } from './histories.ts';
import { inputsOf } from './inputs.ts';
import type { ReplayPlan } from './replay-site.ts';
import { replayUnit, type UnitCourse } from './replay-unit.ts';
import { replayedEdges } from './replayed-edges.ts';
import { seenFold, seenHistory, type SeenHistory } from './seen-history.ts';

/** One unit of a replay: what was seen of it, what comes of it replayed, and how well the model knows it. */
export interface UnitResult {
  readonly unit: string;
  /** its control's settings are others than recorded */
  readonly changed: boolean;
  /** why nothing is replayed of it; null: it is */
  readonly refused: 'no-call' | 'no-output' | 'not-there' | null;
  /** what isn't wired, or is sensed elsewhere, and therefore taken as quiet */
  readonly unseen: readonly Unseen[];
  readonly seen: readonly SeenMark[];
  readonly course: UnitCourse;
  readonly differences: readonly UnitDifference[];
  /** what the reference control with the recorded settings would have done otherwise than was seen */
  readonly baseline: { readonly compared: number; readonly differences: readonly UnitDifference[] };
  /** what is concluded otherwise from the very same rows under the limits that were asked for */
  readonly judged: readonly EventDifference[];
  readonly edges: { readonly seen: readonly UnitEdge[]; readonly replayed: readonly UnitEdge[] };
  readonly knownThrough: Instant | null;
}

export type Unseen = 'high-pressure' | 'low-pressure' | 'control-voltage' | 'call-upstream';

/** Something seen that covers a stretch of time, for the drawing. */
export interface SeenMark {
  readonly id: string;
  readonly kind: EventKind;
  readonly certainty: Certainty;
  readonly start: Instant;
  readonly end: Instant | null;
}

const NO_COURSE: UnitCourse = { changes: [], stages: [], beyond: [] };

export function* replayOneUnit(plan: ReplayPlan, id: string, stretch: Stretch): Asking<UnitResult> {
  const strands = strandsOf(plan, id);
  yield* foldSubject(strands.all, stretch);
  const unit = unitAtEnd(plan.recorded, id, stretch.until)!;
  const asked = unitAtEnd(plan.replayed, id, stretch.until) ?? unit;
  const seen = seenHistory(strands.seen.stored);
  const otherwise = seenHistory(strands.seenOtherwise.stored);
  const within = { from: plan.from, through: Math.min(plan.to, seen.through) };
  const refused = refusalOf(unit, seen);
  const run = (history: SeenHistory, as: Unit): Asking<UnitCourse> =>
    refused || !plan.units.includes(id)
      ? nothing()
      : courseOf(plan, history, as, { ...stretch, until: within.through });
  const changed = !isSame(controlsOf(unit.protection, 0), controlsOf(asked.protection, 0));
  const course = yield* run(otherwise, asked);
  const hard = strands.recorded.events.filter(({ kind }) => kind === 'hard-lockout');
  const differences = refused ? [] : differencesOf(seen.edges.output, hard, course, within);
  const baseCourse = changed ? yield* run(seen, unit) : course;
  const baseline =
    changed && !refused ? differencesOf(seen.edges.output, hard, baseCourse, within) : differences;
  const judgedEdges = strands.judged.edges;
  return {
    unit: id,
    changed,
    refused,
    unseen: unseenOf(unit),
    seen: marksOf(strands.recorded.events, seen.edges.power, seen.edges.output),
    course: clipped(course, within),
    differences,
    baseline: {
      compared: baseCourse.changes.filter(({ at }) => at.latest >= plan.from).length,
      differences: baseline,
    },
    judged: compareEvents(strands.recorded.events, strands.judged.events, plan),
    edges: {
      seen: strands.recorded.edges,
      replayed:
        changed && !refused
          ? replayedEdges(id, judgedEdges, course, controlsOf(asked.protection, 0)[0]!)
          : judgedEdges,
    },
    knownThrough: strands.recorded.knownThrough,
  };
}

// eslint-disable-next-line require-yield
function* nothing(): Asking<UnitCourse> {
  return NO_COURSE;
}

function* courseOf(
  plan: ReplayPlan,
  seen: SeenHistory,
  unit: Unit,
  { from, until }: Stretch,
): Asking<UnitCourse> {
  const controls = controlsOf(unit.protection, plan.timerError);
  const run = replayUnit(inputsOf(unit, seen), seen.edges.output, controls, { from, through: until });
  for (;;) {
    const next = run.next();
    if (next.done) return next.value;
    yield { kind: 'breath', at: next.value };
  }
}

interface Strands {
  readonly all: readonly Strand[];
  readonly recorded: Strand;
  readonly judged: Strand;
  readonly seen: Strand;
  /** seen under the replayed undervoltage trip */
  readonly seenOtherwise: Strand;
}

function strandsOf(plan: ReplayPlan, id: string): Strands {
  const context = (history: SiteHistory): FoldContext =>
    contextOf(history, { kind: 'unit', site: plan.site, device: id }, plan.watch);
  const protections = (history: SiteHistory) =>
    history.map(({ site }) => site.units.find((unit) => unit.id === id)?.protection);
  const judging = judgedHistory(plan);
  const recorded = strand(unitFold, context(plan.recorded));
  const seen = strand(seenFold, context(plan.recorded));
  const judged = isSame(protections(plan.recorded), protections(judging))
    ? recorded
    : strand(unitFold, context(judging));
  const trips = (history: SiteHistory) => protections(history).map((one) => one?.undervoltageTrip.value);
  const sameTrip = isSame(trips(plan.recorded), trips(plan.replayed));
  const seenOtherwise = sameTrip ? seen : strand(seenFold, context(plan.replayed));
  return {
    all: [...new Set([recorded, judged, seen, seenOtherwise])],
    recorded,
    judged,
    seen,
    seenOtherwise,
  };
}

function refusalOf({ points }: Unit, { edges }: SeenHistory): UnitResult['refused'] {
  if (!points.some(({ signal }) => signal === 'cooling-call')) return 'no-call';
  const runs = ['compressor-output', 'contactor-voltage', 'compressor-current'];
  if (!points.some(({ signal }) => runs.includes(signal))) return 'no-output';
  return edges.output.length === 0 || edges.call.length === 0 ? 'not-there' : null;
}

function unseenOf({ points }: Unit): Unseen[] {
  const wired = new Set(points.map(({ signal }) => signal));
  const missing = (['high-pressure', 'low-pressure', 'control-voltage'] as const).filter(
    (one) => !wired.has(one),
  );
  const upstream = points.some(({ signal, sense }) => signal === 'cooling-call' && sense === 'upstream');
  return upstream ? [...missing, 'call-upstream'] : missing;
}

function marksOf(events: readonly EventDraft[], power: readonly Edge[], output: readonly Edge[]): SeenMark[] {
  const marks = events.map(({ id, kind, certainty, start, end }) => ({
    id,
    kind,
    certainty,
    start: start.latest,
    end: end && end.earliest > start.latest ? end.earliest : end && end.latest,
  }));
  return [...marks, ...stretchesOf(power, 0, 'power-loss'), ...stretchesOf(output, null, 'telemetry-gap')];
}

function stretchesOf(edges: readonly Edge[], value: number | null, kind: EventKind): SeenMark[] {
  return edges.flatMap((edge, i) => {
    if (edge.to !== value || (value === null && edge.from === null)) return [];
    const until: Span | null = edges[i + 1] ?? null;
    return [
      { id: '', kind, certainty: 'certain' as const, start: edge.latest, end: until && until.earliest },
    ];
  });
}

function clipped(
  { changes, stages, beyond }: UnitCourse,
  { from, through }: { from: Instant; through: Instant },
): UnitCourse {
  const inside = <T extends { from: Instant; to: Instant }>(all: readonly T[]): T[] =>
    all
      .filter((one) => one.from < through && one.to > from)
      .map((one) => ({ ...one, from: Math.max(one.from, from), to: Math.min(one.to, through) }));
  return {
    changes: changes.filter(({ at }) => at.latest >= from && at.earliest <= through),
    stages: inside(stages),
    beyond: inside(beyond),
  };
}
