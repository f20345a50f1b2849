import type { Instant } from '../base/instant.ts';
import type { ControlState } from '../control/state.ts';
import type { RefrigerantState } from './refrigerant.ts';
import type { RoomState } from './room.ts';
import type { SupplyState } from './supply.ts';

/** Everything that a simulated building remembers: plain JSON, so that a run can be stopped and goes on as if it hadn't. */
export interface BuildingState {
  /** everything through here has happened */
  t: Instant;
  outdoors: number;
  readonly rooms: readonly RoomRun[];
  readonly panels: readonly PanelRun[];
  readonly units: readonly UnitRun[];
  readonly controllers: readonly ControllerRun[];
  readonly generator: SupplyState;
  readonly gateways: readonly GatewayRun[];
  /** by point: what the gateway told last; null: nothing yet */
  readonly told: (number | null)[];
  /** by point: tells nothing */
  readonly silent: boolean[];
}

export interface RoomRun extends RoomState {
  /** °C; null: as planned */
  setPoint: number | null;
  /** W besides the planned */
  heat: number;
  overLimit: boolean;
}

export interface PanelRun {
  /** how many losses stand; they may overlap */
  utilityLosses: number;
  utilityAway: boolean;
  /** the utility's voltage times this */
  utilityShare: number;
  source: 'utility' | 'generator' | 'none';
  /** line voltage, V */
  volts: number;
}

export interface UnitRun {
  control: ControlState;
  /** when the control will change by itself */
  controlDueAt: Instant | null;
  /** control voltage, V */
  volts: number;
  /** what the thermostat calls for, and the change that is on its way */
  wants: boolean;
  wantsNext: boolean;
  wantsAt: Instant | null;
  /** what the control sees */
  call: boolean;
  output: boolean;
  alarm: boolean;
  contactor: boolean;
  contactorNext: boolean;
  /** its contacts have welded together */
  welded: boolean;
  contactorAt: Instant | null;
  /** locked-rotor current flows until then */
  inrushUntil: Instant | null;
  /** the compressor runs */
  runs: boolean;
  readonly refrigerant: RefrigerantState;
  supplyAir: number;
  readonly faults: UnitFaults;
}

export interface UnitFaults {
  breakerOpen: boolean;
  blocked: number;
  chargeLost: number;
  airflowLost: number;
  highForced: boolean;
  lowForced: boolean;
  interlockOpen: boolean;
  contactorWelded: boolean;
  compressorOpen: boolean;
  alarmWireOpen: boolean;
  callWireOpen: boolean;
}

export interface ControllerRun {
  /** which stages are called for */
  readonly on: boolean[];
  offSince: Instant;
  /** it reboots: no call before */
  bootsUntil: Instant | null;
}

export interface GatewayRun {
  /** it looks at its contacts again */
  scanAt: Instant | null;
  /** when each of its polls, and its heartbeat, comes next */
  readonly polls: Instant[];
  heartbeatAt: Instant | null;
  /** without power since its panel is dead, or told to be down */
  down: boolean;
  bootsAt: Instant | null;
  /** what it tells reaches nobody before */
  heldUntil: Instant | null;
}
