import type { Instant } from '../base/instant.ts';
import type { Interval } from '../telemetry/interval.ts';
import type { SignalName } from '../telemetry/signals.ts';
import type { Point, Site, SiteHistory } from '../telemetry/site.ts';
import type { UnitEdge } from './edge.ts';
import type { EventDraft, Subject } from './event.ts';
import type { Standing } from './standing.ts';
import type { WatchCoverage } from './watch.ts';

/**
 * What every fold (unit, panel, space, gateway, site) is to the driver (driver.ts), which owns the loop over the
 * record: time order, life, silence, known-through, configuration boundaries, position and tail.
 *
 * A fold takes rows in time order into its state and decides only in `settle(frontier)`, where everything at or before
 * `frontier` is known for every signal that isn't silent. Two rules make the result independent of how the record was
 * cut into steps:
 *   1. what is decided about an instant b leans only on facts about instants at or before b (plus a fixed look-ahead
 *      that `waiting` accounts for), never on whatever later rows happen to have been taken already;
 *   2. each event and each edge is settled (`out.event`, `out.edge`) exactly once, when nothing more can change it while data
 *      arrive in order. Until then it lives in the state and `conclude` shows it.
 * State is plain JSON (no Infinity, no undefined, no class), so that it can be stored as a checkpoint and cloned.
 */
export interface Fold<S> {
  readonly kind: Subject['kind'];
  /** raised whenever the same record may give other events: stored states of another version are dropped */
  readonly version: number;
  start(context: FoldContext): S;
  /** one sample, raw, of `context.sources[source]`; never of kind life */
  take(state: S, context: FoldContext, source: number, t: Instant, value: number, quality: number): void;
  /**
   * Tried before `take`: true where the sample has been taken and nothing that `waiting` leans on has changed, which is so
   * of nine in ten samples of most records.
   */
  takeCalm?(
    state: S,
    context: FoldContext,
    source: number,
    t: Instant,
    value: number,
    quality: number,
  ): boolean;
  /** what a meter saw between two times, raw, of `context.sources[source]`; taken at its end. Absent: it says nothing here */
  takeInterval?(state: S, context: FoldContext, source: number, interval: Interval): void;
  /** a gateway that the subject reads lived at `t` */
  takeLife?(state: S, context: FoldContext, t: Instant): void;
  /** one edge of a member unit (panels and spaces) */
  takeEdge?(state: S, context: FoldContext, edge: UnitEdge): void;
  /** the source is unknown from `at` on: silent over watched time */
  silent(state: S, context: FoldContext, source: number, at: Instant): void;
  /** the source is known again at `at`: an on-change source holds its last value again; a polled one has a sample coming */
  resumed(state: S, context: FoldContext, source: number, at: Instant): void;
  /** other settings hold from `at` on; `context` already carries them */
  reconfigured(state: S, context: FoldContext, at: Instant): void;
  /** through when everything must be known before anything more can be decided; null if nothing waits */
  waiting(state: S, context: FoldContext): Instant | null;
  /** through when everything has been decided, given that everything is known through `frontier`; default: frontier */
  decidedThrough?(state: S, context: FoldContext, frontier: Instant): Instant;
  /** decide what waits at or before `frontier` */
  settle(state: S, context: FoldContext, frontier: Instant, out: Output): void;
  /**
   * What stands at `now`: open and undecided events, and the state for the page. Given a copy that is thrown away
   * afterwards, so it may decide what still waits as if nothing more came, and say so in `pending`. What wakes the
   * subject again is worked out by the driver from `waiting`.
   */
  conclude(state: S, context: FoldContext, frontier: Instant, now: Instant, out: Output): Conclusion;
  /** The points that such an event leans on alone, so that no other holds it back; null: on all. Absent: all do. */
  leansOn?(event: EventDraft, context: FoldContext): readonly Source[] | null;
  /** The member unit that such an event leans on by itself; null: on none. Absent: none does. */
  leansOnMember?(event: EventDraft): string | null;
}

export type Conclusion = Omit<
  Standing,
  'knownThrough' | 'wakeAt' | 'wakeOnLife' | 'wakeOnAnyLife' | 'wakeOnMembers' | 'wakeOnAnyMember' | 'held'
>;

export interface Output {
  event(event: EventDraft): void;
  edge(edge: UnitEdge): void;
}

export interface FoldContext {
  readonly subject: Subject;
  /** the configuration that holds at the instant being folded */
  site: Site;
  readonly history: SiteHistory;
  readonly sources: readonly Source[];
  readonly watch: WatchCoverage;
  /** panels and spaces: through when each member unit's edges are known; null: the unit is unknown, don't wait for it */
  readonly members: Readonly<Record<string, Instant | null>>;
  /**
   * Where several ingests share the messages: through when each gateway's word counts, because everything that came before
   * is committed, whoever received it. Holds back what is decided, never what is shown. Null, left out: all counts.
   */
  readonly counted?: Readonly<Record<string, Instant>> | null;
}

/** Where rows come from. The list is the union over the configuration's history, so that an index keeps its meaning. */
export interface Source {
  /** `<device>/<signal>` for a point, `<gateway>/life` for a gateway's life, `<unit>/edges` for a member unit */
  readonly key: string;
  readonly kind: 'point' | 'life' | 'edges';
  readonly device: string;
  readonly signal: SignalName | null;
  /** the point as configured now; null while the configuration doesn't have it */
  point: Point | null;
}

/**
 * A stretch of a subject's record in time order, as columns: `t[i]` is already corrected by the gateway's dated clock
 * offsets; `source[i]` is an index into the context's sources; rows of equal t are one step, ordered by source.
 */
export interface RecordPage {
  readonly length: number;
  readonly t: Float64Array | readonly number[];
  readonly source: Uint16Array | readonly number[];
  readonly value: Float64Array | readonly number[];
  readonly quality: Uint8Array | readonly number[];
  /** for rows of kind `edges` */
  readonly edges?: readonly (UnitEdge | undefined)[];
  /** for rows that tell of an interval: `t` is its end, on the same clock as `t` */
  readonly intervals?: readonly (Interval | undefined)[];
}
