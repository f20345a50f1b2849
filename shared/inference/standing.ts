import type { Instant } from '../base/instant.ts';
import type { Bounds, Span } from '../base/span.ts';
import type { SignalName } from '../telemetry/signals.ts';
import type { Certainty, EventCause } from './event.ts';

/**
 * What stands now for one subject: the page's unit lines, space lines and panel lines are made of this (wire/), and the
 * server wakes the subject at `wakeAt`.
 */
export interface Standing {
  /** the instant through which everything is known and decided; members' edges are complete through it */
  readonly knownThrough: Instant | null;
  /** fold again when `now` (newest sample or watch mark) passes this, even without new samples of its own */
  readonly wakeAt: Instant | null;
  /** fold again when this gateway is known to have lived past the instant */
  readonly wakeOnLife: { readonly gateway: string; readonly at: Instant } | null;
  /** an event that leans on some points alone waits for them: fold again whenever a gateway is known to have lived on */
  readonly wakeOnAnyLife: boolean;
  /** something holds back what is known; where nothing does, folding again with a later `now` tells more */
  readonly held: boolean;
  /** panels and spaces: fold again when every member that isn't unknown is known through this */
  readonly wakeOnMembers: Instant | null;
  /** an event leans on one member by itself and waits for it: fold again whenever any is known further */
  readonly wakeOnAnyMember: boolean;
  readonly unit?: UnitStanding;
  readonly space?: SpaceStanding;
  readonly panel?: PanelStanding;
  readonly gateway?: GatewayStanding;
}

/** A unit is in exactly one of these; each has its drawing and its sentence (architecture 7). */
export type UnitPhase =
  | 'running'
  /** may start as soon as a call comes */
  | 'ready'
  /** off-cycle delay: may not start before a time */
  | 'off-delay'
  /** power came back, power-up delay */
  | 'power-up-delay'
  | 'soft-lockout'
  | 'undervoltage-hold'
  | 'hard-lockout'
  /** output on, no current */
  | 'failed-start'
  | 'no-power'
  /** stopped, and why isn't known yet or can't be told */
  | 'stopped'
  | 'not-known';

export interface UnitStanding {
  readonly phase: UnitPhase;
  readonly since: Span | null;
  readonly certainty: Certainty;
  readonly cause: EventCause | null;
  readonly causeCertainty: Certainty | null;
  readonly pending: readonly string[];
  /** null: can't be told from the wiring, or unknown now */
  readonly call: boolean | null;
  /** when the wait is over; null where nothing is waited for or the end isn't known */
  readonly until: Span | null;
  /** is the wait's length a recorded setting or an assumed one */
  readonly untilFrom: 'assumed' | 'recorded' | null;
  /** overdue: `until` passed, everything known through it, and it hasn't happened */
  readonly overdue: boolean;
  readonly startsLastHour: number;
  readonly lastSeen: Readonly<Partial<Record<SignalName, LastSeen>>>;
  /** id of the open lockout, hold, loss … event that the phase rests on */
  readonly event: string | null;
  /** what restarts have shown of its delays (handbook 4 rule 8); absent: nothing yet */
  readonly settingsSeen?: readonly SettingSeen[];
}

export interface SettingSeen {
  readonly setting: 'offDelay' | 'powerUpDelay';
  /** [low, high] that holds the delay */
  readonly seconds: Bounds;
  /** how many waited-for restarts bracket it */
  readonly gaps: number;
}

export interface LastSeen {
  readonly t: Instant;
  /** contacts: 1 asserted, 0 not, null unknown; analogs: the scaled value */
  readonly value: number | null;
}

export interface SpaceStanding {
  readonly cooling: 'all' | 'reduced' | 'lost' | 'not-known';
  readonly since: Span | null;
  readonly able: number;
  readonly installed: number;
  readonly needed: number;
  readonly temperature: LastSeen | null;
  readonly temperatureLimit: number | null;
  /** how it warms and what carries it; absent where it isn't asked for */
  readonly warming?: WarmingStanding;
}

/** What a space's fold has learned of its warming and its load (handbook 6). */
export interface WarmingStanding {
  /** run fractions of its units over the last hours, added up, [least, most]; null: not known, or no measure of cooling */
  readonly loadSeconds: number;
  readonly load: Bounds | null;
  /** the fewest units that carry it for sure; null: not known, or more than there are */
  readonly fewest: number | null;
  /** stretches without any unit running that are kept, and the fit to them; null: too few */
  readonly periods: number;
  readonly fit: {
    readonly masses: 1 | 2;
    readonly periods: number;
    readonly longestSeconds: number;
    readonly slowSeconds: Bounds;
    readonly aboveKelvin: Bounds;
    readonly spreadKelvin: number;
  } | null;
  /** seconds from `insideAt` to its limit, were nothing cooled; null: not in sight, or can't be told */
  readonly without: { readonly soonest: number; readonly latest: number | null; readonly by: string } | null;
  readonly insideAt: Instant | null;
  readonly outdoors: LastSeen | null;
  readonly risePerHour: number | null;
  /** units that can't run */
  readonly unable: readonly string[];
  /** the limit as forecast while they can't: between these; `latest` null: can't be told */
  readonly forecast: { readonly soonest: Instant; readonly latest: Instant | null } | null;
}

export interface PanelStanding {
  readonly power: 'present' | 'away' | 'not-known';
  readonly since: Span | null;
  readonly lineVoltage: LastSeen | null;
  readonly generator: boolean | null;
  /** units of this panel waiting to restart after a power return */
  readonly restarting: readonly string[];
  /** the newest changes of its own supply points, on the corrected clocks of their gateways */
  readonly supplyEdges?: readonly (Span & { readonly key: string; readonly to: 'away' | 'back' })[];
}

export interface GatewayStanding {
  readonly lastLife: Instant | null;
  readonly silentSince: Instant | null;
}
