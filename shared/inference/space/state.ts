import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Evidence } from '../event.ts';
import type { FoldContext, Output } from '../fold.ts';
import type { OwnPoints } from '../members/own-points.ts';
import type { UnitPicture } from '../members/picture.ts';
import type { Place } from '../members/place.ts';
import type { Item } from '../members/queue.ts';

/** What a space's fold believes: plain JSON. */
export interface SpaceState {
  readonly queue: Item[];
  readonly units: Record<string, UnitPicture>;
  readonly beside: Record<string, Beside>;
  readonly points: OwnPoints;
  /** the space is above its temperature limit */
  hot: Hot | null;
  /** units that can't run, and since when */
  unable: Record<string, Unable>;
  demand: Demand | null;
  loss: Loss | null;
  /** over, but an edge that overlaps their times may still come */
  closing: ClosedLoss[];
  /** within which everything changed that was applied at the last instant */
  moved: Span | null;
  /** when something that no row brings is to be decided; null: nothing is */
  due: Instant | null;
}

/** What a space remembers of a unit beside its picture. */
export interface Beside {
  /** the call's last end */
  callOff: Span | null;
  /** it was called, or ran, when its control power went */
  calledAtLoss: boolean;
  /** three undervoltage holds in a row, each within 10 s of a start: since the third, until a run outlasts 10 s */
  dropping: Span | null;
}

export interface Hot {
  readonly start: Span;
  /** it was below before */
  readonly startSeen: boolean;
  readonly point: string;
  peak: number;
  /** it wasn't measured for a while: the last good sample before the first such gap */
  gapFrom: Instant | null;
}

export type UnableReason =
  'hard-lockout' | 'no-power' | 'failed-start' | 'undervoltage-holds' | 'overdue' | 'waits-while-hot';

export interface Unable {
  readonly since: Span;
  readonly certain: boolean;
  readonly reason: UnableReason;
}

/** A call that waits, or a temperature above the limit. */
export interface Demand {
  readonly since: Span;
  readonly certain: boolean;
  /** null: the temperature */
  readonly unit: string | null;
  readonly says: string;
}

export interface Loss {
  readonly level: 'reduced' | 'lost';
  start: Span;
  certain: boolean;
  readonly evidence: readonly Evidence[];
  readonly able: number;
  members: string[];
}

export interface ClosedLoss extends Loss {
  end: Span;
}

/** What the rules are given at one instant. */
export interface SpaceMoment {
  readonly state: SpaceState;
  readonly context: FoldContext;
  readonly place: Place;
  readonly t: Instant;
  readonly out: Output;
}

export const newSpaceState = (): SpaceState => ({
  queue: [],
  units: {},
  beside: {},
  points: {},
  hot: null,
  unable: {},
  demand: null,
  loss: null,
  closing: [],
  moved: null,
  due: null,
});
