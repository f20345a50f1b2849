import type { Instant } from '../base/instant.ts';
import type { WallDate } from './wall-time.ts';

/**
 * Who answers when. A roster is a pile of layers in one zone; where several layers have somebody, the upper one counts.
 * In a layer people take turns, each from one hand-over to the next; it may hold for some hours of the week only. An
 * override lies on top of every layer. Times of day and days of the calendar are wall time, so a night shift is 11 h or
 * 13 h where the clocks change, and a week 167 h or 169 h (handbook 7).
 */
export interface Roster {
  readonly id: string;
  readonly name: string;
  /** IANA zone of every wall time in it */
  readonly zone: string;
  /** the lowest first */
  readonly layers: readonly Layer[];
  readonly holidays: readonly WallDate[];
}

export interface Layer {
  readonly name: string;
  /** in the order in which they take their turns */
  readonly people: readonly string[];
  /** the day of the first hand-over; nobody of this layer is on before it */
  readonly startsOn: WallDate;
  /** the day from which nobody of this layer is on any more */
  readonly endsOn: WallDate | null;
  /** minutes after midnight at which the next takes over */
  readonly handOver: number;
  /** days from one hand-over to the next; 7 for weeks */
  readonly days: number;
  /** null: at all hours */
  readonly hours: Hours | null;
  /** does the layer hold on holidays: as on any day, not at all, or on those alone */
  readonly holidays: 'as-ever' | 'not' | 'only';
}

/** Some hours of some days. `to` at or before `from` is on the next day. */
export interface Hours {
  /** 1 Monday to 7 Sunday: the days on which they begin */
  readonly weekdays: readonly number[];
  readonly from: number;
  readonly to: number;
}

/** Somebody stands in for whoever would be on. Of two that overlap, the one made later counts. */
export interface Override {
  readonly id: string;
  readonly from: Instant;
  readonly to: Instant;
  readonly person: string;
  readonly madeAt: Instant;
}

/** A half-open stretch of time and who is on in it; null: nobody, a gap. */
export interface Turn {
  readonly from: Instant;
  readonly to: Instant;
  readonly person: string | null;
  /** the layer's name; `override`; null for a gap */
  readonly by: string | null;
}
