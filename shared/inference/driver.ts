import type { Instant } from '../base/instant.ts';
import type { UnitEdge } from './edge.ts';
import type { EventDraft } from './event.ts';
import type { Fold, FoldContext, Output, RecordPage } from './fold.ts';
import {
  BEGINNING,
  beginHorizon,
  heardThrough,
  knownThrough,
  lifeToTell,
  NEVER,
  silencesBy,
  type Horizon,
} from './horizon.ts';
import { surelyKnown } from './position.ts';
import { enterVersion, versionAt } from './sources.ts';
import type { Standing } from './standing.ts';
import { upToFrontier } from './subject-draft.ts';
import { Walk, type Driven } from './walk.ts';

/**
 * The loop over the record (architecture 4): owns time order, life, silence, known-through, configuration boundaries,
 * position and tail, so that a fold only has rules.
 *
 * The stored state has taken every row at or before its position; the rows after it, the tail, are taken by a copy at each
 * step. Where the position lies is a matter of cost alone: the state is a function of the rows taken, and the rows of the
 * tail are read again, so any cut of the record into steps gives the same events. A row at or before `through` has come
 * too late for the stored state: the caller goes back to a checkpoint before it.
 */

/** A fold state as it is stored: JSON throughout. */
export interface Folded {
  readonly version: number;
  /** every row at or before this has been taken into the state; BEGINNING for none */
  readonly through: Instant;
  readonly state: unknown;
}

export interface StepResult {
  readonly stored: Folded;
  /** decided for good (while data come in order) on the way to the position; `at` is the row being taken then */
  readonly settled: {
    readonly events: readonly { readonly event: EventDraft; readonly at: Instant }[];
    readonly edges: readonly { readonly edge: UnitEdge; readonly at: Instant }[];
  };
  /** what the tail and the open state show: replaced whole at every step */
  readonly provisional: { readonly events: readonly EventDraft[]; readonly edges: readonly UnitEdge[] };
  /** null where `more` was true */
  readonly standing: Standing | null;
}

export interface StepOptions {
  /** further rows follow this page */
  readonly more: boolean;
  /** the fold's now: the later of the newest sample and the newest watch mark */
  readonly now: Instant;
}

/** A fold that has taken nothing yet. */
export const unfolded = <S>(fold: Fold<S>): Folded => ({
  version: fold.version,
  through: BEGINNING,
  state: null,
});

/**
 * One step. `page` holds every row of the record with t > stored.through, in order, cut only between two instants.
 */
export function foldStep<S>(
  fold: Fold<S>,
  context: FoldContext,
  stored: Folded,
  page: RecordPage,
  options: StepOptions,
): StepResult {
  const driven = load(fold, context, stored);
  const position =
    surelyKnown(driven.horizon, context, stored.through, page, options.now) ??
    positionOf(driven, context, stored.through, page, options.now);
  const cut = rowsThrough(page, position);
  const events: { event: EventDraft; at: Instant }[] = [];
  const edges: { edge: UnitEdge; at: Instant }[] = [];
  const walk = new Walk(fold, context, driven, stored.through);
  walk.take(page, 0, cut, {
    event: (event) => events.push({ event, at: walk.at }),
    edge: (edge) => edges.push({ edge, at: walk.at }),
  });
  const settled = { events, edges };
  const state: Folded = {
    version: fold.version,
    through: cut > 0 ? page.t[cut - 1]! : stored.through,
    state: driven,
  };
  if (options.more) return { stored: state, settled, provisional: { events: [], edges: [] }, standing: null };
  return { stored: state, settled, ...showTail(fold, context, state, page, cut, options.now) };
}

function showTail<S>(
  fold: Fold<S>,
  context: FoldContext,
  stored: Folded,
  page: RecordPage,
  cut: number,
  now: Instant,
): Pick<StepResult, 'provisional' | 'standing'> {
  const events: EventDraft[] = [];
  const edges: UnitEdge[] = [];
  const out: Output = { event: (event) => events.push(event), edge: (edge) => edges.push(edge) };
  const copy = copyOf(stored.state as Driven<S>);
  const walk = new Walk(fold, context, copy, stored.through);
  walk.take(page, cut, page.length, out);
  walk.pass(now);
  walk.settle(Math.max(now, walk.at), out);
  const frontier = walk.frontier(Math.max(now, walk.at));
  const waiting = fold.waiting(copy.fold, context);
  const decided = fold.decidedThrough?.(copy.fold, context, frontier) ?? frontier;
  let wakeOnAnyLife = false;
  let wakeOnAnyMember = false;
  const through = (event: EventDraft): Instant => {
    const wanted = event.end?.latest ?? event.start.latest;
    const member = fold.leansOnMember?.(event) ?? null;
    wakeOnAnyMember ||= member !== null && (context.members[member] ?? NEVER) < wanted;
    const points = fold.leansOn?.(event, context);
    if (!points) return frontier;
    const heard = Math.max(frontier, heardThrough(copy.horizon, context, points));
    wakeOnAnyLife ||= heard < wanted;
    return heard;
  };
  const standing = fold.conclude(copy.fold, context, frontier, now, upToFrontier(out, through));
  const wakes = wakesOf(copy, context, sooner(waiting, fold.waiting(copy.fold, context), frontier), now);
  const held = frontier < Math.max(now, walk.at);
  return {
    provisional: { events, edges },
    standing: { ...standing, ...wakes, wakeOnAnyLife, wakeOnAnyMember, held, knownThrough: decided },
  };
}

/** Rows of the tail may make something due before the first of what waited without them. */
const sooner = (waiting: Instant | null, shown: Instant | null, frontier: Instant): Instant | null =>
  shown !== null && shown > frontier && shown < (waiting ?? NEVER) ? shown : waiting;

/** What would let the fold decide more without a sample of its own: time without a word, life, members' progress. */
function wakesOf<S>(
  driven: Driven<S>,
  context: FoldContext,
  waiting: Instant | null,
  now: Instant,
): Pick<Standing, 'wakeAt' | 'wakeOnLife' | 'wakeOnMembers'> {
  const { next } = silencesBy(driven.horizon, context, now);
  let wakeOnLife: Standing['wakeOnLife'] = null;
  let wakeOnMembers: Instant | null = null;
  for (let i = 0; i < context.sources.length && waiting !== null; i++) {
    const known = knownThrough(driven.horizon, context, i);
    if (known === null || known >= waiting) continue;
    const { kind, point } = context.sources[i]!;
    if (kind === 'edges') wakeOnMembers = waiting;
    else wakeOnLife ??= lifeToTell(driven.horizon, point!, i, waiting);
  }
  const nothingHolds = waiting !== null && waiting > now && !wakeOnLife && !wakeOnMembers;
  const settings = context.history.find(({ from }) => from > now)?.from ?? NEVER;
  // silent from the first instant after `next`
  const at = Math.min(next + 1, settings, nothingHolds ? waiting : NEVER);
  return { wakeAt: at >= NEVER ? null : at, wakeOnLife, wakeOnMembers };
}

const copyOf = <T>(value: T): T => JSON.parse(JSON.stringify(value)) as T;

function load<S>(fold: Fold<S>, context: FoldContext, stored: Folded): Driven<S> {
  const keys = context.sources.map((source) => source.key);
  if (stored.state === null || stored.version !== fold.version) {
    enterVersion(context, 0);
    return { keys, horizon: beginHorizon(keys.length), fold: fold.start(context) };
  }
  enterVersion(context, versionAt(context.history, stored.through));
  const was = stored.state as Driven<S>;
  return { keys, horizon: rearranged(was.horizon, was.keys, keys), fold: was.fold };
}

/** The horizon with its columns in the order of today's sources. */
function rearranged(horizon: Horizon, was: readonly string[], keys: readonly string[]): Horizon {
  if (was.length === keys.length && was.every((key, i) => key === keys[i])) return horizon;
  const column = <T>(values: readonly T[], absent: T): T[] =>
    keys.map((key) => {
      const i = was.indexOf(key);
      return i < 0 ? absent : values[i]!;
    });
  return {
    ...horizon,
    last: column(horizon.last, BEGINNING),
    floor: column(horizon.floor, BEGINNING),
    unknown: column<Instant | null>(horizon.unknown, null),
    rowsAtLast: column(horizon.rowsAtLast, horizon.rows),
  };
}

/** The least known-through of the sources once every row of the page has come: where the tail begins. */
function positionOf<S>(
  driven: Driven<S>,
  context: FoldContext,
  through: Instant,
  page: RecordPage,
  now: Instant,
): Instant {
  const horizon = copyOf(driven.horizon);
  const walk = new Walk<null>(null, context, { ...driven, horizon, fold: null }, through);
  walk.take(page, 0, page.length, null);
  walk.pass(now);
  const position = walk.frontier(Math.max(now, walk.at));
  enterVersion(context, versionAt(context.history, through));
  return position;
}

function rowsThrough(page: RecordPage, instant: Instant): number {
  let low = 0;
  let high = page.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (page.t[middle]! <= instant) low = middle + 1;
    else high = middle;
  }
  return low;
}

export { BEGINNING };
