import type { Instant } from '../base/instant.ts';
import { BEGINNING, foldStep, unfolded, type Folded } from '../inference/driver.ts';
import { edgeAt, type UnitEdge } from '../inference/edge.ts';
import { placeEdges } from '../inference/edge-order.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Fold, FoldContext, RecordPage } from '../inference/fold.ts';
import type { Interval } from '../telemetry/interval.ts';

/**
 * A subject's record through one or several folds beside each other, without a store: each asks for the same rows, piece by
 * piece, from whoever has them. Written as a generator, so that what is decided stays pure and what waits is elsewhere.
 */
export type Ask =
  /** the newest row at or before `at` of each source, as rows at `at` */
  | { readonly kind: 'opening'; readonly context: FoldContext; readonly at: Instant }
  /** rows with after < t ≤ until, at most `limit` and never a part of an instant; `more`: further ones follow */
  | {
      readonly kind: 'rows';
      readonly context: FoldContext;
      readonly after: Instant;
      readonly until: Instant;
      readonly limit: number;
    }
  /** a piece of work is done: `done` of 1 of it all */
  | { readonly kind: 'breath'; readonly at: Instant };

export interface Rows {
  readonly page: RecordPage;
  readonly more: boolean;
}

/** Answers are rows to a question for rows, and nothing to a breath. */
export type Asking<R> = Generator<Ask, R, Rows | undefined>;

/** One fold of the subject under one history of the configuration. */
export interface Strand {
  readonly fold: Fold<unknown>;
  readonly context: FoldContext;
  /** of member units, for a panel or a space */
  readonly memberEdges: readonly UnitEdge[];
  stored: Folded;
  readonly events: EventDraft[];
  readonly edges: UnitEdge[];
  /** through when its subject is known once all is taken; null: nothing is */
  knownThrough: Instant | null;
}

export const strand = (
  // eslint-disable-next-line @typescript-eslint/no-explicit-any
  fold: Fold<any>,
  context: FoldContext,
  memberEdges: readonly UnitEdge[] = [],
): Strand => ({
  fold: fold as Fold<unknown>,
  context,
  memberEdges: placeEdges(memberEdges.map((edge) => ({ edge, settledAt: null }))).map(({ edge }) => edge),
  stored: unfolded(fold as Fold<unknown>),
  events: [],
  edges: [],
  knownThrough: null,
});

export interface Stretch {
  /** BEGINNING: from the record's first row on */
  readonly from: Instant;
  readonly until: Instant;
  /** the folds' now; never before `until` */
  readonly now: Instant;
}

const ROWS = 4096;

/** Takes every strand through the stretch; all of them read the same points. */
export function* foldSubject(strands: readonly Strand[], { from, until, now }: Stretch): Asking<void> {
  const { context } = strands[0]!;
  const opening = from === BEGINNING ? null : (yield { kind: 'opening', context, at: from })!.page;
  let limit = ROWS;
  for (;;) {
    const after = Math.max(from, Math.min(...strands.map(({ stored }) => stored.through)));
    const { page, more } = (yield { kind: 'rows', context, after, until, limit })!;
    const before = strands.map(({ stored }) => stored.through);
    for (const one of strands) takeRows(one, opening, page, { more, now, from });
    if (!more) return;
    if (strands.every(({ stored }, i) => stored.through === before[i])) limit *= 2;
    yield { kind: 'breath', at: page.t[page.length - 1] ?? until };
  }
}

function takeRows(
  one: Strand,
  opening: RecordPage | null,
  page: RecordPage,
  { more, now, from }: { readonly more: boolean; readonly now: Instant; readonly from: Instant },
): void {
  const { through } = one.stored;
  const end = more ? page.t[page.length - 1]! : Infinity;
  const pieces = [
    ...(opening && through < from ? rowsAfter(opening, BEGINNING) : []),
    ...rowsAfter(page, through),
    ...edgeRows(one, through, end),
  ].sort((a, b) => a.t - b.t || a.source - b.source);
  const step = foldStep(one.fold, one.context, one.stored, pageOf(pieces), { more, now });
  one.stored = step.stored;
  one.events.push(...step.settled.events.map(({ event }) => event), ...step.provisional.events);
  one.edges.push(...step.settled.edges.map(({ edge }) => edge), ...step.provisional.edges);
  if (step.standing) one.knownThrough = step.standing.knownThrough;
}

interface RecordRow {
  readonly t: Instant;
  readonly source: number;
  readonly value: number;
  readonly quality: number;
  readonly edge?: UnitEdge;
  readonly interval?: Interval | undefined;
}

function rowsAfter(page: RecordPage, after: Instant): RecordRow[] {
  const { length, t, source, value, quality, intervals } = page;
  const rows: RecordRow[] = [];
  for (let i = 0; i < length; i++)
    if (t[i]! > after)
      rows.push({
        t: t[i]!,
        source: source[i]!,
        value: value[i]!,
        quality: quality[i]!,
        interval: intervals?.[i],
      });
  return rows;
}

function edgeRows({ context, memberEdges }: Strand, after: Instant, until: Instant): RecordRow[] {
  const places = new Map(context.sources.map(({ key }, i) => [key, i]));
  return memberEdges
    .filter((edge) => edgeAt(edge) > after && edgeAt(edge) <= until)
    .map((edge) => ({
      t: edgeAt(edge),
      source: places.get(`${edge.unit}/edges`) ?? -1,
      value: 0,
      quality: 0,
      edge,
    }))
    .filter(({ source }) => source >= 0);
}

const pageOf = (rows: readonly RecordRow[]): RecordPage => ({
  length: rows.length,
  t: rows.map(({ t }) => t),
  source: rows.map(({ source }) => source),
  value: rows.map(({ value }) => value),
  quality: rows.map(({ quality }) => quality),
  edges: rows.map(({ edge }) => edge),
  intervals: rows.map(({ interval }) => interval),
});
