import type { ControlSettings } from '../control/settings.ts';
import type { Phasor } from '../power/starting-dip.ts';
import type { SignalName } from '../telemetry/signals.ts';

/**
 * A simulated building as data: what the site's document (contract section 3) doesn't say because no gateway could
 * know it. Ids are those of the document. Temperatures °C, heat W, masses J/K, conductances W/K, durations seconds.
 */
export interface BuildingPlan {
  readonly seed: number;
  /** local standard time, for schedules and the sun */
  readonly utcOffsetHours: number;
  readonly weather: Weather;
  readonly rooms: Readonly<Record<string, RoomPlan>>;
  readonly panels: Readonly<Record<string, PanelPlan>>;
  readonly units: Readonly<Record<string, UnitPlan>>;
  /** who calls for cooling; a unit that none names never has a call */
  readonly controllers: readonly ControllerPlan[];
  readonly generator?: GeneratorPlan;
  /** gateways not named are on a battery and never go down */
  readonly gateways?: Readonly<Record<string, GatewayPlan>>;
}

export interface Weather {
  readonly mean: number;
  /** from the mean to the hottest hour */
  readonly swing: number;
  readonly hottestHour: number;
  /** by how much one day may differ from the next */
  readonly dayVariation: number;
}

/** Two masses: what the air holds at once, and walls and furniture behind it. */
export interface RoomPlan {
  readonly air: number;
  readonly mass: number;
  readonly coupling: number;
  readonly toOutdoors: number;
  /** at full sun */
  readonly sun: number;
  /** equipment, day and night */
  readonly equipment: number;
  /** people and what they switch on, while the space is in use */
  readonly inUse: number;
}

export interface PanelPlan {
  /** open-circuit voltage of the utility, as a share of the panel's nominal */
  readonly utility: number;
  /** by how much it sinks in the afternoon, share */
  readonly afternoonSag: number;
  /** between transformer and panel, both ways */
  readonly conductors: Phasor;
  /** everything else on the panel */
  readonly otherAmps: number;
}

export interface UnitPlan {
  /** W taken from the room at 35 °C outdoors */
  readonly capacity: number;
  readonly startSeconds: number;
  readonly startPowerFactor: number;
  readonly runPowerFactor: number;
  /** control voltage ÷ line voltage with the coil off */
  readonly controlRatio: number;
  /** V by which the coil pulls the control voltage down */
  readonly coilDrop: number;
  /** share by which its timers are off */
  readonly timerError: number;
  /** where the control isn't set as the document says, or the document leaves it open */
  readonly control?: Partial<ControlSettings>;
}

export type ControllerPlan = ThermostatPlan | LeadLagPlan;

export interface ThermostatPlan {
  readonly kind: 'thermostat';
  readonly space: string;
  readonly units: readonly string[];
  /** while the space is in use (and `earlyMinutes` before), and else */
  readonly setPoint: number;
  readonly setBack: number;
  readonly earlyMinutes: number;
  readonly differential: number;
  /** its own delay before it calls again */
  readonly minimumOff: number;
  /** it reboots with the unit: no call for this long after control power returns; 0: on a battery */
  readonly afterPowerReturn: number;
}

/** Calls the lead, then the lag as it gets warmer; on a battery, as in a shelter. */
export interface LeadLagPlan {
  readonly kind: 'lead-lag';
  readonly space: string;
  readonly units: readonly string[];
  readonly setPoint: number;
  readonly differential: number;
  /** each further unit is called this much warmer */
  readonly stage: number;
  /** which unit leads changes every so many days */
  readonly rotateDays: number;
  /** units it may call while the generator carries the site */
  readonly onGenerator: number;
}

export interface GeneratorPlan {
  readonly panels: readonly string[];
  readonly kva: number;
  /** X′d, per unit */
  readonly transientReactance: number;
  /** from the loss of the utility to the transfer */
  readonly startSeconds: number;
  /** the utility must have been back for this long before the return transfer */
  readonly returnSeconds: number;
  /** without any source, at the return transfer */
  readonly breakSeconds: number;
  readonly coolDownSeconds: number;
}

export interface GatewayPlan {
  /** it goes down with this panel, and boots after it is back */
  readonly fedFrom: string;
  readonly bootSeconds: number;
}

/** Something that happens to the building: from `at` (seconds after the scenario's start) for `seconds`, else for good. */
export interface Happening {
  readonly at: number;
  readonly seconds?: number;
  readonly what: HappeningKind;
}

export type HappeningKind =
  | { readonly kind: 'utility-away'; readonly panels: readonly string[] }
  /** the utility's voltage times this share */
  | { readonly kind: 'utility-low'; readonly panels: readonly string[]; readonly share: number }
  | { readonly kind: 'breaker-open'; readonly unit: string }
  /** share of the outdoor coil that passes no air */
  | { readonly kind: 'coil-blocked'; readonly unit: string; readonly share: number }
  /** share of the refrigerant that is gone */
  | { readonly kind: 'charge-lost'; readonly unit: string; readonly share: number }
  /** share of the indoor airflow that is gone */
  | { readonly kind: 'airflow-lost'; readonly unit: string; readonly share: number }
  /** the switch opens whatever the pressure */
  | { readonly kind: 'switch-open'; readonly unit: string; readonly which: 'high' | 'low' }
  /** something between thermostat and control holds the call off */
  | { readonly kind: 'interlock-open'; readonly unit: string }
  /** from its next closing on, its contacts stay together */
  | { readonly kind: 'contactor-welded'; readonly unit: string }
  /** the compressor takes no current: a wire, a capacitor, its own overload */
  | { readonly kind: 'compressor-open'; readonly unit: string }
  | { readonly kind: 'alarm-wire-open'; readonly unit: string }
  | { readonly kind: 'call-wire-open'; readonly unit: string }
  /** another setting at the thermostat or the lead/lag controller of this space */
  | { readonly kind: 'set-point'; readonly space: string; readonly setPoint: number }
  /** more heat in the room, W */
  | { readonly kind: 'heat'; readonly space: string; readonly watts: number }
  /** what this gateway tells is delivered only when the uplink is back */
  | { readonly kind: 'uplink-lost'; readonly gateway: string }
  | { readonly kind: 'gateway-down'; readonly gateway: string }
  /** one point tells nothing */
  | { readonly kind: 'point-silent'; readonly device: string; readonly signal: SignalName };

/** A building, its document, and what happens to it. */
export interface Scenario {
  readonly name: string;
  readonly title: string;
  readonly summary: string;
  /** local hour of day at which it begins, and how long it is worth watching */
  readonly startHour: number;
  readonly seconds: number;
  readonly buildings: readonly ScenarioBuilding[];
}

export interface ScenarioBuilding {
  readonly site: string;
  /** contract section 3 */
  readonly document: unknown;
  readonly plan: BuildingPlan;
  readonly happenings: readonly Happening[];
}
