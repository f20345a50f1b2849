import { SECOND, type Instant } from '../base/instant.ts';
import { added, loadVoltage, magnitude, phasor, type Phasor } from '../power/starting-dip.ts';
import type { BuildingState, PanelRun } from './building-state.ts';
import { drift, noise } from './noise.ts';
import { localHour } from './weather.ts';
import type { PanelWiring, UnitWiring, Wiring } from './wiring.ts';

const MINUTE = 60 * SECOND;

/** Line voltage of a panel at `t`: its source behind its impedance, feeding what runs and what starts. */
export function lineVoltage(wiring: Wiring, state: BuildingState, place: number, t: Instant): number {
  const run = state.panels[place]!;
  const panel = wiring.panels[place]!;
  if (run.source === 'none') return 0;
  let load: Phasor = panel.otherLoad;
  for (const i of panel.units) {
    const unit = state.units[i]!;
    if (!unit.runs) continue;
    load = added(load, unit.inrushUntil !== null ? wiring.units[i]!.starting : wiring.units[i]!.running);
  }
  const nominal = panel.panel.nominalVoltage;
  if (run.source === 'generator')
    return magnitude(loadVoltage(phasor(nominal, 0), panel.generatorImpedance, load));
  const open = nominal * utilityShare(wiring, panel, run, t);
  return magnitude(loadVoltage(phasor(open, 0), panel.utilityImpedance, load));
}

/** The utility's voltage wanders by the minute, sinks in the afternoon, and trembles. */
function utilityShare(wiring: Wiring, { plan, panel }: PanelWiring, run: PanelRun, t: Instant): number {
  const { seed, utcOffsetHours } = wiring.plan;
  const key = wiring.key ^ panel.id.length;
  const { hour } = localHour(t, utcOffsetHours);
  const afternoon = Math.max(0, Math.cos(((hour - 16) * Math.PI) / 12));
  const wander = 0.006 * (drift(seed, key, t / (3 * MINUTE)) - 0.5);
  const tremble = 0.001 * (noise(seed, key + 1, Math.floor(t / (5 * SECOND))) - 0.5);
  return run.utilityShare * plan.utility * (1 - plan.afternoonSag * afternoon) * (1 + wander + tremble);
}

/** Control voltage of a unit: the line's share, less what the coil draws. */
export function controlVoltage(unit: UnitWiring, state: BuildingState, place: number): number {
  const run = state.units[place]!;
  if (run.faults.breakerOpen) return 0;
  const line = state.panels[unit.panel]!.volts;
  return Math.max(0, line * unit.plan.controlRatio - (run.contactor && line > 0 ? unit.plan.coilDrop : 0));
}

/** Current in the compressor's own conductor, A: a little more on a hot day. */
export function compressorAmps(wiring: Wiring, state: BuildingState, place: number): number {
  const run = state.units[place]!;
  const unit = wiring.units[place]!;
  if (!run.runs) return 0;
  const { volts } = state.panels[unit.panel]!;
  const share = volts / wiring.panels[unit.panel]!.panel.nominalVoltage;
  if (run.inrushUntil !== null) return unit.lockedRotorAmps * share;
  return unit.ratedLoadAmps * (0.72 + 0.008 * (state.outdoors - 20)) * (2 - share);
}
