import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';

/**
 * What a unit's fold tells the panel and the space it belongs to: one change of its state, as an interval. Panels and
 * spaces fold over these, ordered by (latest, earliest, unit), and never read a unit's samples.
 *
 * What the unit's fold owes them:
 *   1. The first sight of a wired state is `known` with `now`, never a change: a start is an on that was seen after an off.
 *   2. Once the unit is said to be known through T, no edge with `span.latest` at or before T is added or changed while
 *      data come in order. Only that it is certain may be learned later, from a source that had counted as silent.
 *   3. A change that fell into a stretch where nothing was known isn't given as a wide edge: `unknown` from the last good
 *      sample on, then `known` with `now`. Other edges are at most three polling periods wide.
 *   4. A call that goes with control power is both `power-away` and `call-off`; whoever reads them tests power first.
 */
export interface UnitEdge {
  readonly unit: string;
  readonly kind: UnitEdgeKind;
  readonly span: Span;
  /** certainty of existence: false where other histories fit as well */
  readonly certain: boolean;
  readonly detail?: EdgeDetail;
}

/** Which of a unit's states became unknown or known; absent: `run`. */
export type EdgeOf = 'run' | 'power' | 'call';

/**
 * `start`: `planned`, seconds [low, high] of the wait it ended, where one was known; `by`, what set it off: `call` (the
 * call came last), `wait` (a delay ran out with the call waiting), `unknown`.
 * `held`: `why`, `soft-lockout` or `undervoltage-hold`; `wait`, seconds [low, high] to the retry; `ran`, seconds
 * [low, high] that the run had lasted.
 * `unknown`, `known`: `of`, which state; with `known`, `now`: 1 (running, powered, called) or 0.
 */
export type EdgeDetail = Readonly<Record<string, number | string | readonly [number, number] | null>>;

export type UnitEdgeKind =
  /** compressor output on, off */
  | 'start'
  | 'stop'
  /** control voltage gone, back (below 5 V, at or above) */
  | 'power-away'
  | 'power-back'
  /** cooling call at the control's own terminal */
  | 'call-on'
  | 'call-off'
  /** hard lockout latched, over */
  | 'latched'
  | 'released'
  /** soft lockout or undervoltage hold, begun and over: a wait that ends by itself */
  | 'held'
  | 'free'
  /** output on with no current, and over */
  | 'failed'
  | 'recovered'
  /** nothing can be said about one of the unit's states from here on, and known again */
  | 'unknown'
  | 'known';

/** Place in the panel's and the space's time order. */
export const edgeAt = (edge: UnitEdge): Instant => edge.span.latest;

export const edgeOf = (edge: UnitEdge): EdgeOf => (edge.detail?.['of'] as EdgeOf | undefined) ?? 'run';
