import { outputOn } from '../control/state.ts';
import type { SignalName } from '../telemetry/signals.ts';
import type { Point } from '../telemetry/site.ts';
import type { BuildingState, UnitRun } from './building-state.ts';
import { compressorAmps } from './circuit.ts';
import type { Wiring } from './wiring.ts';

/** What a gateway reads at a point, raw: 1 is a closed contact, analogs are rounded as a meter shows them. */
export type Reading = (state: BuildingState) => number;

export function readingOf(wiring: Wiring, point: Point): Reading {
  const unit = wiring.units.findIndex(({ unit: { id } }) => id === point.device);
  const panel = wiring.panels.findIndex(({ panel: { id } }) => id === point.device);
  const room = wiring.rooms.findIndex(({ space: { id } }) => id === point.device);
  const asserted = contactOf(wiring, point, { unit, panel, room });
  if (asserted) {
    const normallyOpen = point.contact === 'normally-open';
    return (state) => (asserted(state) === normallyOpen ? 1 : 0);
  }
  const analog = analogOf(wiring, point, { unit, panel, room });
  const step = point.signal.endsWith('temperature') ? 20 : 10;
  return (state) => Math.round(((analog(state) - point.offset) / point.scale) * step) / step;
}

interface Places {
  readonly unit: number;
  readonly panel: number;
  readonly room: number;
}
type Contact = (state: BuildingState) => boolean;

const hasPower = (unit: UnitRun): boolean => unit.volts >= 5;

/** A call is fed from control power: with no power there is none to see, wherever it is sensed. */
const upstreamCall = (unit: UnitRun): boolean => unit.wants && hasPower(unit);

/** A relay that is held while all is well falls off on a lockout and without power; a broken wire moves nothing. */
function alarmContact(unit: UnitRun, alarmOn: Point['alarmOn']): boolean {
  if (unit.faults.alarmWireOpen) return false;
  return alarmOn === 'released' ? unit.alarm || !hasPower(unit) : unit.alarm && hasPower(unit);
}

/** Voltage seen behind a switch that the call feeds: gone with the call, with power, and with what lies before it. */
function loopBroken(unit: UnitRun, which: 'high' | 'low'): boolean {
  const beforeLow = which === 'low' && unit.control.lowOpenSince !== null;
  return !unit.call || !hasPower(unit) || unit.control.highOpen || beforeLow;
}

function contactOf(wiring: Wiring, point: Point, places: Places): Contact | null {
  const ofUnit = unitContact(point);
  if (ofUnit && places.unit >= 0) return (state) => ofUnit(state.units[places.unit]!);
  if (ofUnit && point.signal === 'lockout-alarm') {
    const units = point.of.map((id) => wiring.units.findIndex(({ unit }) => unit.id === id));
    return (state) => units.some((i) => ofUnit(state.units[i]!));
  }
  const panels = places.panel >= 0 ? [places.panel] : wiring.panels.map((_, i) => i);
  switch (point.signal) {
    case 'utility-failed':
      return (state) => panels.some((i) => state.panels[i]!.utilityAway);
    case 'generator-running':
      return (state) => state.generator.phase !== 'standby';
    case 'high-temperature':
      return (state) => state.rooms[Math.max(0, places.room)]!.overLimit;
    case 'low-temperature':
      return (state) => state.rooms[Math.max(0, places.room)]!.air < 10;
    case 'door-open':
    case 'smoke':
    case 'reversing-valve':
      return () => false;
    default:
      return null;
  }
}

function unitContact(point: Point): ((unit: UnitRun) => boolean) | null {
  switch (point.signal) {
    case 'cooling-call':
      return point.sense === 'upstream' ? upstreamCall : (unit) => unit.call;
    case 'compressor-output':
      return (unit) => unit.output;
    case 'high-pressure':
      return point.sense === 'loop' ? (unit) => loopBroken(unit, 'high') : (unit) => unit.control.highOpen;
    case 'low-pressure':
      return point.sense === 'loop'
        ? (unit) => loopBroken(unit, 'low')
        : (unit) => unit.control.lowOpenSince !== null;
    case 'lockout-alarm':
      return (unit) => alarmContact(unit, point.alarmOn);
    case 'fan-call':
      return upstreamCall;
    default:
      return null;
  }
}

/** The three line-to-line voltages of a panel differ a little. */
const PHASE_SHARE: Partial<Record<SignalName, number>> = {
  'line-voltage': 1,
  'line-voltage-ab': 1,
  'line-voltage-bc': 1.004,
  'line-voltage-ca': 0.997,
};

function analogOf(wiring: Wiring, point: Point, { unit, panel, room }: Places): Reading {
  const phase = PHASE_SHARE[point.signal];
  if (phase !== undefined) return (state) => state.panels[panel]!.volts * phase;
  switch (point.signal) {
    case 'control-voltage':
      return (state) => state.units[unit]!.volts;
    case 'contactor-voltage':
      return (state) => (outputOn(state.units[unit]!.control) ? state.units[unit]!.volts : 0);
    case 'compressor-current':
      return (state) => compressorAmps(wiring, state, unit);
    case 'supply-air-temperature':
      return (state) => state.units[unit]!.supplyAir;
    case 'return-air-temperature':
      return (state) => state.rooms[wiring.units[unit]!.room]!.air;
    case 'outdoor-temperature':
      return (state) => state.outdoors;
    default:
      return (state) => state.rooms[Math.max(0, room)]!.air;
  }
}
