import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Evidence } from '../event.ts';
import type { FoldContext, Output } from '../fold.ts';
import { BEGINNING } from '../horizon.ts';
import type { GatewaySilences } from '../members/gateway-silence.ts';
import type { OwnPoints } from '../members/own-points.ts';
import type { UnitPicture } from '../members/picture.ts';
import type { Place } from '../members/place.ts';
import type { Item } from '../members/queue.ts';
import { newLine, type Line } from './line.ts';
import { newWarmth, type Warmth } from './warmth.ts';

/** What a space's fold believes: plain JSON. */
export interface SpaceState {
  readonly queue: Item[];
  readonly units: Record<string, UnitPicture>;
  readonly beside: Record<string, Beside>;
  readonly lines: Record<string, UnitLines>;
  readonly points: OwnPoints;
  readonly gateways: GatewaySilences;
  /** above the temperature limit, as an event and as a line */
  hot: Hot | null;
  readonly hotLine: Line;
  /** every line has been read up to here */
  swept: Instant;
  readonly losses: Readonly<Record<LossLevel, LossState>>;
  /** the last instant at which something that is wired wasn't known */
  unknownAt: Instant | null;
  /** how it warms, how much its units ran, what is forecast of it */
  readonly warmth: Warmth;
  /** when something that no row brings is to be decided; null: nothing is */
  due: Instant | null;
}

export type LossLevel = 'reduced' | 'lost';

/** What a space remembers of a unit beside its picture. */
export interface Beside {
  /** the call's last end */
  callOff: Span | null;
  /** three undervoltage holds in a row, each within 10 s of a start: until a run outlasts 10 s */
  dropping: boolean;
}

/** What may keep a unit from cooling, and what asks it to. */
export interface UnitLines {
  readonly call: Line;
  readonly run: Line;
  readonly powerless: Line;
  readonly latched: Line;
  readonly failed: Line;
  /** three undervoltage holds in a row */
  readonly dropping: Line;
  /** overdue, or waiting while the space is above its limit: unsure, for it leans on settings */
  readonly waiting: Line;
  /** called, or running, when its power went: unsure, for no call can be seen without power */
  readonly calledAtLoss: Line;
}

export const newLines = (): UnitLines => ({
  call: newLine(),
  run: newLine(),
  powerless: newLine(),
  latched: { ...newLine(), now: { ...newLine().now, known: true } },
  failed: { ...newLine(), now: { ...newLine().now, known: true } },
  dropping: { ...newLine(), now: { ...newLine().now, known: true } },
  waiting: { ...newLine(), now: { ...newLine().now, known: true } },
  calledAtLoss: { ...newLine(), now: { ...newLine().now, known: true } },
});

export interface Hot {
  readonly start: Span;
  /** it was below before */
  readonly startSeen: boolean;
  readonly point: string;
  peak: number;
  /** it wasn't measured for a while: the last good sample before the first such gap */
  gapFrom: Instant | null;
}

/** Cooling reduced, or lost: since when it may be without a break, and since when it must be. */
export interface LossState {
  /** as believed, as sure; null: it isn't */
  believedSince: Instant | null;
  sureSince: Instant | null;
  must: Must | null;
}

export interface Must {
  readonly from: Instant;
  /** as believed, since when it may have been; it must have been until `to`; null while it must be */
  readonly mayFrom: Instant;
  to: Instant | null;
  /** the same as sure; null: unsure from the first */
  readonly sure: { readonly mayFrom: Instant; to: Instant | null } | null;
  readonly evidence: readonly Evidence[];
  readonly able: number;
  readonly installed: number;
  readonly needed: number;
  members: readonly string[];
}

/** What the rules are given at one instant. */
export interface SpaceMoment {
  readonly state: SpaceState;
  readonly context: FoldContext;
  readonly place: Place;
  readonly t: Instant;
  readonly out: Output;
  /** within which everything changed that is applied at this instant */
  moved: Span | null;
}

export const newSpaceState = (): SpaceState => ({
  queue: [],
  units: {},
  beside: {},
  lines: {},
  points: {},
  gateways: {},
  hot: null,
  hotLine: newLine(),
  swept: BEGINNING,
  losses: {
    reduced: { believedSince: null, sureSince: null, must: null },
    lost: { believedSince: null, sureSince: null, must: null },
  },
  unknownAt: null,
  warmth: newWarmth(),
  due: null,
});
