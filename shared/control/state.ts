import type { Instant } from '../base/instant.ts';

/** What a protection control sees at an instant. It sees its switches itself, however a gateway may be wired to them. */
export interface ControlInputs {
  /** V AC between R and C; below 5 V there is no control power (handbook 4, rule 10) */
  readonly controlVoltage: number;
  /** cooling call at the control's own terminal */
  readonly call: boolean;
  /** the switch has tripped */
  readonly highPressureOpen: boolean;
  readonly lowPressureOpen: boolean;
}

/** Below this, V, there is no control power. */
export const NO_POWER_BELOW = 5;

export type ControlPhase =
  | 'no-power'
  | 'power-up-delay'
  /** nothing to wait for but the call, or a control voltage at or above trip */
  | 'ready'
  | 'off-delay'
  | 'running'
  | 'soft-lockout'
  | 'undervoltage-hold'
  | 'hard-lockout';

export type PressureCause = 'high-pressure' | 'low-pressure';

/** Everything that a control remembers; plain JSON. It changes only when something happens. */
export interface ControlState {
  readonly phase: ControlPhase;
  readonly since: Instant;
  /** control power is gone, and the hold-up isn't over: nothing is forgotten yet */
  readonly awaySince: Instant | null;
  readonly call: boolean;
  /** control voltage while below trip, V; null at or above, or with no trip */
  readonly lowVoltage: number | null;
  readonly highOpen: boolean;
  readonly lowOpenSince: Instant | null;
  /** of the present run */
  readonly startedAt: Instant | null;
  readonly stoppedAt: Instant | null;
  /** end of the wait of the present phase; null: over, or held by the voltage */
  readonly waitUntil: Instant | null;
  /** the call broke with the output off: back before the delay is over, it starts the delay again */
  readonly delayAgain: boolean;
  /** protective stops in this call */
  readonly highStops: number;
  readonly lowStops: number;
  /** of the present soft or hard lockout */
  readonly cause: PressureCause | null;
}

/** Why something changed: a code, and what a sentence about it needs. Durations in seconds, voltages in V. */
export type ControlReason =
  | { readonly code: 'call-came' }
  | { readonly code: 'wait-over'; readonly wait: ControlPhase; readonly waited: number }
  | { readonly code: 'voltage-recovered'; readonly waited: number }
  /** power was back within the hold-up: the control never noticed */
  | { readonly code: 'held-up'; readonly away: number }
  | { readonly code: 'call-ended' }
  | { readonly code: 'high-pressure'; readonly stop: number }
  /** no start: the high-pressure switch was open when the call came or the wait ended */
  | { readonly code: 'high-pressure-at-start'; readonly stop: number }
  | { readonly code: 'low-pressure'; readonly stop: number; readonly openFor: number }
  /** no start: the low-pressure switch was still open at the retry */
  | { readonly code: 'low-pressure-at-retry'; readonly stop: number }
  | { readonly code: 'undervoltage'; readonly volts: number; readonly trip: number }
  | { readonly code: 'power-lost' }
  | { readonly code: 'power-returned' }
  | { readonly code: 'call-broken' }
  | { readonly code: 'power-broken' };

export interface ControlChange {
  readonly at: Instant;
  /**
   * `started`, `stopped`: the output. `held`: a soft lockout or an undervoltage hold begins. `latched`, `reset`: a hard
   * lockout begins, ends. `waiting`: the power-up delay begins.
   */
  readonly kind: 'started' | 'stopped' | 'held' | 'latched' | 'reset' | 'waiting';
  readonly reason: ControlReason;
}

/** The control feeds the contactor's coil. */
export const outputOn = (state: ControlState): boolean =>
  state.phase === 'running' && state.awaySince === null;

/** The control reports a hard lockout. */
export const alarmOn = (state: ControlState): boolean =>
  state.phase === 'hard-lockout' && state.awaySince === null;
