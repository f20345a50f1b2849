import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { FoldContext, Output } from '../fold.ts';
import type { GatewaySilences } from '../members/gateway-silence.ts';
import type { OwnPoints } from '../members/own-points.ts';
import type { UnitPicture } from '../members/picture.ts';
import type { Place } from '../members/place.ts';
import type { Item } from '../members/queue.ts';
import { newVoltageWatch, type VoltageWatch } from './excursions.ts';
import type { GeneratorSupply } from './generator.ts';
import type { Away, PastAway } from './power-loss.ts';

/** What a panel's fold believes: plain JSON. */
export interface PanelState {
  readonly queue: Item[];
  readonly units: Record<string, UnitPicture>;
  readonly points: OwnPoints;
  readonly gateways: GatewaySilences;
  readonly supply: Supply;
  /** the utility contact's own word, beside a line voltage that may have been read too seldom */
  readonly utility: Supply;
  /** the generator feeds it; null: it doesn't, or can't be told */
  generator: GeneratorSupply | null;
  /** the newest changes of its own supply points, oldest first: what gateways' clocks are compared by */
  supplyEdges: SupplyChange[];
  /** the line voltage beside its band (excursions.ts) */
  readonly voltage: VoltageWatch;
  /** the last interruption that was told, from its start to its end */
  interrupted: Span | null;
  /** losses that an interruption without a meter has been made of (unmetered.ts), newest last */
  toldLosses: string[];
  /** units without control power, and losses that are over, newest last (power-loss.ts) */
  away: Record<string, Away>;
  pastAway: PastAway[];
  /** units without control power that belong to no restart sequence yet */
  losses: Record<string, Loss>;
  sequence: Sequence | null;
  /** starts that a later one may still belong with, oldest first */
  starts: SeenStart[];
  /** the last start of a group that was closed for its size alone */
  cut: Span | null;
  /** when something that no row brings is to be decided; null: nothing is */
  due: Instant | null;
}

/** The panel's own word on its power: line voltage, else the utility contact. */
export interface Supply {
  /** null: not known */
  on: boolean | null;
  since: Span | null;
  by: 'line' | 'utility' | null;
  /** the last outage that is over */
  outage: SupplyOutage | null;
  /** the last stretch in which power was seen gone, through its return or the last that was told of it */
  dark: SupplyDark | null;
}

export interface SupplyDark extends Span {
  readonly since: Instant;
  readonly by: 'line' | 'utility' | null;
}

/** A supply point's level changed, known before and after. */
export interface SupplyChange extends Span {
  readonly key: string;
  readonly to: 'away' | 'back';
}

export interface SupplyOutage {
  readonly away: Span;
  readonly back: Span;
  readonly by: 'line' | 'utility';
}

/** A unit lost control power. */
export interface Loss {
  readonly away: Span;
  /** the first loss of the same row of outages, and how many there were: reclosing takes power away again and again */
  readonly first: Span;
  readonly count: number;
  readonly certain: boolean;
}

/** Restart after a power return (handbook 5.3). */
export interface Sequence {
  members: Record<string, Restart>;
  supply: SupplyOutage | null;
}

/**
 * What became of one unit: `waiting` until it is known. `no-call`: not called, so nothing to wait for; `held-off`: by
 * design, on the generator; `lost-again`: the next loss came first; `not-lost`: it ran through.
 */
export type Outcome =
  | 'waiting'
  | 'started'
  | 'overdue'
  | 'no-call'
  | 'held-off'
  | 'no-power'
  | 'locked-out'
  | 'lost-again'
  | 'not-known'
  | 'not-lost';

export interface Restart {
  /** null: its control power isn't wired */
  readonly loss: Loss | null;
  /** null: still away, or not wired: then it is taken to be the panel's */
  readonly back: Span | null;
  readonly certain: boolean;
  outcome: Outcome;
  /** the start, or when it was overdue; null where neither is awaited */
  at: Span | null;
  planned: Span | null;
  /** what set the start: the wait, the call that came after it, or it can't be told */
  by: 'wait' | 'call' | 'unknown' | null;
}

export interface SeenStart {
  readonly unit: string;
  readonly span: Span;
  readonly certain: boolean;
  readonly afterReturn: boolean;
  /** the unit's control power is wired and known, so that the cause leans on nothing unseen */
  readonly powerKnown: boolean;
}

/** What the rules are given at one instant. */
export interface PanelMoment {
  readonly state: PanelState;
  readonly context: FoldContext;
  readonly place: Place;
  readonly t: Instant;
  readonly out: Output;
}

const newSupply = (): Supply => ({ on: null, since: null, by: null, outage: null, dark: null });

export const newPanelState = (): PanelState => ({
  queue: [],
  units: {},
  points: {},
  gateways: {},
  supply: newSupply(),
  utility: newSupply(),
  generator: null,
  supplyEdges: [],
  voltage: newVoltageWatch(),
  interrupted: null,
  toldLosses: [],
  away: {},
  pastAway: [],
  losses: {},
  sequence: null,
  starts: [],
  cut: null,
  due: null,
});
