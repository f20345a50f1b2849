import type { StartSupply } from './supply.ts';
import type { Errors, PlanUnit, Settable } from './waits.ts';

/** What a panel's plan is asked for, and what it may promise: against timers and dials, against timers alone, or nominally. */
export type Hold = 'worst-case' | 'timers' | 'nominal';

export interface PlanAsk {
  readonly units: readonly PlanUnit[];
  /** s */
  readonly spacing: number;
  readonly errors: Errors;
  readonly settable: Settable;
  /** what is to be promised; null: the strictest that keeps all apart */
  readonly hold: Hold | null;
  readonly supplies: readonly StartSupply[];
  /** share of the voltage that has to stay while motors start */
  readonly lowestVoltage: number;
  readonly startPowerFactor: number;
}
