import { MILLISECOND, seconds, type Instant } from '../base/instant.ts';
import type { BuildingState, UnitFaults, UnitRun } from './building-state.ts';
import { controlVoltage } from './circuit.ts';
import { foreseeSwitches, moveSwitches, restingRefrigerant, settleRefrigerant } from './refrigerant.ts';
import type { RefrigerantConditions } from './refrigerant.ts';
import type { BuildingOutput } from './truth.ts';
import type { UnitWiring, Wiring } from './wiring.ts';

/**
 * One unit: control power, call, switches, the reference control, and the contactor that it moves. A contactor takes
 * its time, so that a start never changes the voltage at the very instant of the decision that caused it.
 * Coil figures from memory, within IEC 60947-4-1 as the handbook gives it (5.2).
 */
const PULLS_IN = { from: 19, after: 20 * MILLISECOND };
const DROPS_OUT = { below: 12, after: 15 * MILLISECOND };

const NO_FAULTS: UnitFaults = {
  breakerOpen: false,
  blocked: 0,
  chargeLost: 0,
  airflowLost: 0,
  highForced: false,
  lowForced: false,
  interlockOpen: false,
  contactorWelded: false,
  compressorOpen: false,
  alarmWireOpen: false,
  callWireOpen: false,
};

export const beginUnit = ({ control }: UnitWiring, outdoors: number, room: number, t: Instant): UnitRun => ({
  control: control.settled(t),
  controlDueAt: null,
  volts: 24,
  wants: false,
  wantsNext: false,
  wantsAt: null,
  call: false,
  output: false,
  alarm: false,
  contactor: false,
  contactorNext: false,
  welded: false,
  contactorAt: null,
  inrushUntil: null,
  runs: false,
  refrigerant: restingRefrigerant(outdoors, room),
  supplyAir: room,
  faults: { ...NO_FAULTS },
});

export function nextOfUnit(unit: UnitRun): Instant {
  let next = Infinity;
  if (unit.controlDueAt !== null) next = unit.controlDueAt;
  if (unit.wantsAt !== null && unit.wantsAt < next) next = unit.wantsAt;
  if (unit.contactorAt !== null && unit.contactorAt < next) next = unit.contactorAt;
  if (unit.inrushUntil !== null && unit.inrushUntil < next) next = unit.inrushUntil;
  const { headMovesAt, suctionMovesAt } = unit.refrigerant;
  if (headMovesAt !== null && headMovesAt < next) next = headMovesAt;
  if (suctionMovesAt !== null && suctionMovesAt < next) next = suctionMovesAt;
  return next;
}

function conditionsOf(wiring: Wiring, state: BuildingState, place: number): RefrigerantConditions {
  const unit = state.units[place]!;
  return {
    runs: unit.runs,
    outdoors: state.outdoors,
    room: state.rooms[wiring.units[place]!.room]!.air,
    blocked: unit.faults.blocked,
    chargeLost: unit.faults.chargeLost,
    airflowLost: unit.faults.airflowLost,
  };
}

/** W that the unit takes from its room now. */
export function coolingOf(wiring: Wiring, state: BuildingState, place: number): number {
  const { runs, faults } = state.units[place]!;
  if (!runs) return 0;
  const hot = 1 - 0.008 * (state.outdoors - 35);
  return (
    wiring.units[place]!.plan.capacity * hot * (1 - 0.7 * faults.chargeLost) * (1 - 0.5 * faults.airflowLost)
  );
}

/** Time passes for the refrigerant and the supply air, under what held until now. */
export function passUnit(wiring: Wiring, state: BuildingState, place: number, passed: number): void {
  const unit = state.units[place]!;
  const held = conditionsOf(wiring, state, place);
  settleRefrigerant(unit.refrigerant, held, passed);
  const target = held.room - (unit.runs ? 11 * (1 - 0.7 * held.chargeLost) : 0);
  unit.supplyAir = target + (unit.supplyAir - target) * Math.exp(-passed / 60);
}

/** What falls due in the unit at `t`: the contactor moves, the motor is up to speed, a switch moves, a call changes. */
export function unitDue(
  wiring: Wiring,
  state: BuildingState,
  place: number,
  t: Instant,
  out: BuildingOutput,
): void {
  const unit = state.units[place]!;
  if (unit.wantsAt !== null && unit.wantsAt <= t) {
    unit.wants = unit.wantsNext;
    unit.wantsAt = null;
  }
  if (unit.contactorAt !== null && unit.contactorAt <= t) {
    unit.contactor = unit.contactorNext;
    unit.contactorAt = null;
  }
  if (unit.inrushUntil !== null && unit.inrushUntil <= t) unit.inrushUntil = null;
  moveSwitches(unit.refrigerant, t);
  const hasLine = state.panels[wiring.units[place]!.panel]!.source !== 'none' && !unit.faults.breakerOpen;
  // contacts weld while they carry current, and then stay together whatever the coil does
  unit.welded = unit.faults.contactorWelded && (unit.welded || unit.contactor);
  const runs = (unit.contactor || unit.welded) && hasLine && !unit.faults.compressorOpen;
  if (runs && !unit.runs) unit.inrushUntil = t + seconds(wiring.units[place]!.plan.startSeconds);
  if (!runs) unit.inrushUntil = null;
  if (runs !== unit.runs) out.truth({ at: t, device: wiring.units[place]!.unit.id, kind: 'runs', on: runs });
  unit.runs = runs;
}

/** The control sees what holds at `t`, and its output moves the contactor. */
export function stepUnit(
  wiring: Wiring,
  state: BuildingState,
  place: number,
  t: Instant,
  out: BuildingOutput,
): void {
  const unit = state.units[place]!;
  const { control } = wiring.units[place]!;
  const before = seenBy(unit);
  unit.volts = controlVoltage(wiring.units[place]!, state, place);
  unit.call = unit.wants && unit.volts >= 5 && !isHeldOff(wiring, state, place);
  const inputs = {
    controlVoltage: unit.volts,
    call: unit.call,
    highPressureOpen: unit.refrigerant.headOpen || unit.faults.highForced,
    lowPressureOpen: unit.refrigerant.suctionOpen || unit.faults.lowForced,
  };
  const step = control.step(unit.control, inputs, t);
  unit.control = step.state;
  unit.controlDueAt = step.deadline;
  unit.output = step.output;
  unit.alarm = step.alarm;
  const device = wiring.units[place]!.unit.id;
  if (before !== seenBy(unit)) tellSeen(device, before, seenBy(unit), t, out);
  for (const change of step.changes) out.truth({ at: change.at, device, kind: 'control', change });
  moveContactor(unit, t);
  foreseeSwitches(unit.refrigerant, conditionsOf(wiring, state, place), t);
}

/** Something between thermostat and control: an interlock, a broken wire, a unit not allowed on the generator. */
function isHeldOff(wiring: Wiring, state: BuildingState, place: number): boolean {
  const { unit, panel } = wiring.units[place]!;
  const { faults } = state.units[place]!;
  const notAllowed = state.panels[panel]!.source === 'generator' && !unit.allowedOnGenerator;
  return faults.interlockOpen || faults.callWireOpen || notAllowed;
}

const SEEN = ['control-power', 'call', 'high-switch', 'low-switch'] as const;

/** What the control sees now, as bits in the order of SEEN. */
const seenBy = ({ volts, call, control }: UnitRun): number =>
  (volts >= 5 ? 1 : 0) |
  (call ? 2 : 0) |
  (control.highOpen ? 4 : 0) |
  (control.lowOpenSince !== null ? 8 : 0);

function tellSeen(device: string, before: number, after: number, at: Instant, out: BuildingOutput): void {
  SEEN.forEach((kind, bit) => {
    const on = (after >> bit) & 1;
    if (on !== ((before >> bit) & 1)) out.truth({ at, device, kind, on: on === 1 });
  });
}

function moveContactor(unit: UnitRun, t: Instant): void {
  const coil = unit.output ? unit.volts : 0;
  const wanted = coil >= PULLS_IN.from ? true : coil < DROPS_OUT.below ? false : unit.contactor;
  if (wanted === unit.contactor) unit.contactorAt = null;
  else if (unit.contactorAt === null || unit.contactorNext !== wanted) {
    unit.contactorNext = wanted;
    unit.contactorAt = t + (wanted ? PULLS_IN.after : DROPS_OUT.after);
  }
}
