import type { GatewaySilences } from '../members/gateway-silence.ts';
import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import type { Edge, Track } from '../track.ts';
import type { Candidate, Certainty, Evidence, EventCause, Pending } from '../event.ts';
import { newTrack } from '../track.ts';
import type { Lasting, LastingName } from './lasting.ts';
import { newShadow, type Shadow } from './shadow.ts';
import type { Bracket, Mismatched, SeenSetting } from './settings-seen.ts';
import type { AirDifference } from './weak-cooling.ts';
import { ROLES, type Role } from './wiring.ts';

/**
 * What a unit's fold believes: tracks of its signals, edges that wait to be decided, and what stands — a run, a lockout,
 * a hold, the call and the stops in it, the waits. Plain JSON.
 */
export interface Belief {
  readonly tracks: Record<Role, Track>;
  /** newest value of each signal: for the page as `value`, raw for a change of settings; raw null: not good */
  readonly seen: Partial<Record<SignalName, { t: Instant; value: number | null; raw: number | null }>>;
  /** closed edges that wait until everything about their time is known, in order */
  queue: Queued[];
  /** polled and on-change points that fell silent: since when (for telemetry-gap) */
  gaps: Record<string, Instant>;
  /** the last silence of each of its gateways that had promised heartbeats */
  readonly gateways: GatewaySilences;

  run: Run | null;
  soft: Lockout | null;
  hard: HardLockout | null;
  hold: Lockout | null;
  call: Call | null;
  lastStop: { readonly span: Span; readonly cause: EventCause } | null;
  /** when the last run began; null where that wasn't seen */
  lastRun: Span | null;
  /** how long the last run had lasted, seconds [low, high]; null where its start wasn't seen */
  lastRan: readonly [number, number] | null;
  /** the last call break with the output off */
  callBreak: Span | null;
  powerAway: Span | null;
  powerBack: Span | null;
  /** a stop whose reason isn't known yet */
  undecidedStop: Span | null;
  /** starts within the last hour, oldest first */
  starts: Span[];
  tooMany: boolean;
  resets: { readonly span: Span; readonly cause: EventCause; readonly certainty: Certainty }[];
  /** an alarm contact that moved just before the stop that it belongs to was decided */
  alarmAhead: Span | null;
  alarmFault: Fault | null;
  /** between return and supply air, in this run */
  readonly air: AirDifference;
  readonly lasting: Record<LastingName, Lasting | null>;
  /** what restarts have shown of the delays */
  readonly brackets: Record<SeenSetting, Bracket | null>;
  readonly mismatched: Record<SeenSetting, Mismatched | null>;
  readonly shadow: Shadow;
  /** since when the output isn't known */
  outputLost: Instant | null;
  /** when other settings were recorded, until that is decided */
  recordChangedAt: Instant | null;
  /** when a retry that hasn't come is overdue */
  overdueAt: Instant | null;
  /** silences that are over, to be told */
  gapsOver: { readonly key: string; readonly since: Instant; readonly until: Instant }[];
}

export interface Queued {
  readonly role: Role;
  readonly edge: Edge;
}

/** Whether it began in a tentative moment: then its very existence is at most probable. */
export interface Begun {
  readonly tentative: boolean;
}

export interface Run extends Begun {
  readonly start: Span;
  /** the start was seen; false where the output was on when first heard */
  readonly startSeen: boolean;
  /** this start is the retry of a soft lockout */
  readonly retry: boolean;
  readonly afterPower: boolean;
  readonly offSeconds: readonly [number, number] | null;
  /** the output was unknown from here on for a while: the run may have ended then, unseen */
  broken: Instant | null;
}

export interface CountedStop {
  readonly span: Span;
  readonly cause: EventCause;
  readonly certainty: Certainty;
}

export interface Call {
  /** null where the call was there when first heard */
  readonly since: Span | null;
  readonly stops: CountedStop[];
  /** a protective stop in this call may not have been seen, or may not have been told for one */
  unexplained?: boolean;
}

/** Why, with what speaks for and against it. */
export interface Reason {
  readonly cause: EventCause;
  readonly certainty: Certainty;
  /** how sure it is that the control stopped by itself while the call stayed */
  readonly existence: Certainty;
  readonly candidates: readonly Candidate[];
  readonly evidence: readonly Evidence[];
  readonly pending: readonly Pending[];
}

export interface Lockout extends Begun {
  readonly start: Span;
  readonly reason: Reason;
  /** the call, power or the output was unknown from here on for a while: it may have ended then, unseen */
  doubtFrom?: Instant;
}

export interface HardLockout extends Lockout {
  /** the alarm contact's closing; null: the lockout is only counted, or its retry overdue */
  readonly alarm: Span | null;
  readonly because: 'second-stop' | 'refused-retry' | 'alarm-alone';
  readonly certainty: Certainty;
  readonly stopsInCall: number;
  /** the soft lockout before it, whose end isn't sure while only its retry is overdue */
  readonly after: Lockout | null;
}

export interface Fault extends Begun {
  readonly start: Span;
  /** the contact wasn't known from here on for a while: it may have moved then, unseen */
  doubtFrom?: Instant;
  readonly cause: EventCause | null;
  readonly certainty: Certainty;
  readonly evidence: readonly Evidence[];
}

export const newBelief = (): Belief => ({
  tracks: Object.fromEntries(ROLES.map((role) => [role, newTrack()])) as Record<Role, Track>,
  seen: {},
  queue: [],
  gaps: {},
  gateways: {},
  run: null,
  soft: null,
  hard: null,
  hold: null,
  call: null,
  lastStop: null,
  lastRun: null,
  lastRan: null,
  callBreak: null,
  powerAway: null,
  powerBack: null,
  undecidedStop: null,
  starts: [],
  tooMany: false,
  resets: [],
  alarmAhead: null,
  alarmFault: null,
  air: { small: null, weak: null, unseen: false },
  lasting: { conductor: null, range: null },
  brackets: { offDelay: null, powerUpDelay: null },
  mismatched: { offDelay: null, powerUpDelay: null },
  shadow: newShadow(),
  outputLost: null,
  recordChangedAt: null,
  overdueAt: null,
  gapsOver: [],
});
