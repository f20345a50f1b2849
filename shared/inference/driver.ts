import type { Instant } from '../base/instant.ts';
import type { UnitEdge } from './edge.ts';
import type { EventDraft } from './event.ts';
import type { Fold, FoldContext, RecordPage } from './fold.ts';
import type { Standing } from './standing.ts';

/** A fold state as it is stored: JSON throughout. */
export interface Folded {
  readonly version: number;
  /** every row at or before this has been taken into the state; BEGINNING for none */
  readonly through: Instant;
  readonly state: unknown;
}

/** Before every instant, and still a number in JSON. */
export const BEGINNING: Instant = -9_000_000_000_000_000;

/** Tail samples beyond which the slowest signal counts as unknown, so that one lost gateway can't hold everything. */
export const TAIL_BOUND = 10_000;

export interface StepResult {
  /** the state at the position */
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

export type FoldStep = <S>(
  fold: Fold<S>,
  context: FoldContext,
  stored: Folded,
  /** every row of the record with t > stored.through, in order; cut only between two instants */
  page: RecordPage,
  options: {
    /** further rows follow this page */ readonly more: boolean;
    /** the fold's now */ readonly now: Instant;
  },
) => StepResult;
