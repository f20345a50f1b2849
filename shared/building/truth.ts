import type { Instant } from '../base/instant.ts';
import type { ControlChange } from '../control/state.ts';

/**
 * What really happened, with the instants at which it did: for labelling histories, never for the page. `device` is the
 * id of a unit, a panel or a space.
 */
export type TruthFact =
  | {
      readonly at: Instant;
      readonly device: string;
      readonly kind: 'control';
      readonly change: ControlChange;
    }
  | {
      readonly at: Instant;
      readonly device: string;
      readonly kind: 'call' | 'control-power' | 'runs' | 'high-switch' | 'low-switch' | 'over-limit';
      readonly on: boolean;
    }
  /** the panel's source, and its line voltage then, V */
  | { readonly at: Instant; readonly device: string; readonly kind: 'source'; readonly source: string }
  /** motors started on this panel; `volts` while they did */
  | {
      readonly at: Instant;
      readonly device: string;
      readonly kind: 'dip';
      readonly volts: number;
      readonly starting: readonly string[];
    };

/** One message's worth: what one gateway tells of one device at one instant. */
export interface Entry {
  readonly gateway: string;
  /** id of the unit, panel, space, or `site` */
  readonly device: string;
  readonly t: Instant;
  /** raw values, as the gateway sees them; empty for a heartbeat */
  readonly signals: Readonly<Record<string, number>>;
  /** reaches the broker then; its `t` where the uplink holds */
  readonly deliveredAt: Instant;
}

export interface BuildingOutput {
  entry(entry: Entry): void;
  truth(fact: TruthFact): void;
}

export const NO_OUTPUT: BuildingOutput = { entry: () => undefined, truth: () => undefined };
