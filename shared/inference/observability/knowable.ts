import type { EventCause, EventKind } from '../event.ts';

/** How surely a thing can be known at best: the certainties of handbook 4, and `not-at-all`. */
export type Known = 'certain' | 'probable' | 'possible' | 'not-at-all';

/** One kind of event with one cause: what the wiring lets one know of it at best, and why no more. */
export interface Knowable {
  readonly kind: EventKind;
  /** null: the kind has no causes */
  readonly cause: EventCause | null;
  /** whose event it is */
  readonly about: 'unit' | 'panel' | 'space';
  /** that it happened, and when */
  readonly known: Known;
  /** its cause; null where the kind has none */
  readonly causeKnown: Known | null;
  readonly because: string;
  /** only where the time that is judged is shorter than this, s; absent: whatever its length */
  readonly belowSeconds?: number;
}

const RANK: Readonly<Record<Known, number>> = { 'not-at-all': 0, possible: 1, probable: 2, certain: 3 };
export const rankOf = (known: Known): number => RANK[known];

/** The least sure of them. */
export const least = (...all: readonly Known[]): Known => all.reduce((a, b) => (RANK[b] < RANK[a] ? b : a));
/** The surest of them; `not-at-all` of none. */
export const most = (...all: readonly Known[]): Known =>
  all.reduce((a, b) => (RANK[b] > RANK[a] ? b : a), 'not-at-all');

/** A verdict with its reason. */
export interface Verdict {
  readonly known: Known;
  readonly because: string;
}

export const certain = (because: string): Verdict => ({ known: 'certain', because });
export const probable = (because: string): Verdict => ({ known: 'probable', because });
export const possible = (because: string): Verdict => ({ known: 'possible', because });
export const notAtAll = (because: string): Verdict => ({ known: 'not-at-all', because });
