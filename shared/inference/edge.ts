import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';

/**
 * What a unit's fold tells the panel and the space it belongs to: one change of its state, as an interval. Panels and
 * spaces fold over these, ordered by (latest, earliest, unit), and never read a unit's samples.
 */
export interface UnitEdge {
  readonly unit: string;
  readonly kind: UnitEdgeKind;
  readonly span: Span;
  /** certainty of existence: false where other histories fit as well */
  readonly certain: boolean;
  /**
   * for `start`: seconds [low, high] of the planned wait it ended, where one was known, and what set it off:
   * `call` (the call came last), `wait` (a delay ran out with the call waiting), `unknown`
   */
  readonly detail?: Readonly<Record<string, number | string | readonly [number, number] | null>>;
}

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
  /** nothing can be said about the unit from here on (its run signal went unknown), and known again */
  | 'unknown'
  | 'known';

/** Place in the panel's and the space's time order. */
export const edgeAt = (edge: UnitEdge): Instant => edge.span.latest;
