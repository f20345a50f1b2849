import { seconds, type Instant } from '../base/instant.ts';
import type { BuildingState, UnitFaults } from './building-state.ts';
import type { Happening, HappeningKind } from './plan.ts';
import { utilityMoved, feedFromUtility } from './supply.ts';
import type { Wiring } from './wiring.ts';

/** Later than every instant, and still a number in JSON. */
const NEVER: Instant = 9_000_000_000_000_000;

/** One end of a happening. */
export interface HappeningEdge {
  readonly at: Instant;
  readonly begins: boolean;
  /** when it ends; null: never */
  readonly until: Instant | null;
  readonly what: HappeningKind;
}

/** Begin and end of each happening, in time order; at one instant ends come before begins. */
export function happeningEdges(happenings: readonly Happening[], start: Instant): HappeningEdge[] {
  return happenings
    .flatMap(({ at, seconds: length, what }): HappeningEdge[] => {
      const from = start + seconds(at);
      const until = length === undefined ? null : from + seconds(length);
      const begin: HappeningEdge = { at: from, begins: true, until, what };
      return until === null ? [begin] : [begin, { at: until, begins: false, until, what }];
    })
    .sort((a, b) => a.at - b.at || Number(a.begins) - Number(b.begins));
}

/** Puts one edge into effect. */
export function happen(wiring: Wiring, state: BuildingState, edge: HappeningEdge): void {
  const { what, begins, until, at } = edge;
  switch (what.kind) {
    case 'utility-away':
      return moveUtility(wiring, state, what.panels, begins, at);
    case 'utility-low':
      for (const id of what.panels) panelOf(wiring, state, id).utilityShare = begins ? what.share : 1;
      return;
    case 'set-point':
      roomOf(wiring, state, what.space).setPoint = begins ? what.setPoint : null;
      return;
    case 'heat':
      roomOf(wiring, state, what.space).heat += begins ? what.watts : -what.watts;
      return;
    case 'uplink-lost':
      gatewayOf(wiring, state, what.gateway).heldUntil = begins ? (until ?? NEVER) : null;
      return;
    case 'gateway-down':
      Object.assign(gatewayOf(wiring, state, what.gateway), begins ? { down: true } : { bootsAt: at });
      return;
    case 'point-silent':
      silence(wiring, state, `${what.device}/${what.signal}`, begins);
      return;
    default:
      Object.assign(unitOf(wiring, state, what.unit).faults, faultOf(what, begins));
  }
}

type UnitHappening = Extract<HappeningKind, { readonly unit: string }>;

function faultOf(what: UnitHappening, begins: boolean): Partial<UnitFaults> {
  switch (what.kind) {
    case 'breaker-open':
      return { breakerOpen: begins };
    case 'coil-blocked':
      return { blocked: begins ? what.share : 0 };
    case 'charge-lost':
      return { chargeLost: begins ? what.share : 0 };
    case 'airflow-lost':
      return { airflowLost: begins ? what.share : 0 };
    case 'switch-open':
      return what.which === 'high' ? { highForced: begins } : { lowForced: begins };
    case 'interlock-open':
      return { interlockOpen: begins };
    case 'contactor-welded':
      return { contactorWelded: begins };
    case 'compressor-open':
      return { compressorOpen: begins };
    case 'alarm-wire-open':
      return { alarmWireOpen: begins };
    case 'call-wire-open':
      return { callWireOpen: begins };
  }
}

function moveUtility(
  wiring: Wiring,
  state: BuildingState,
  panels: readonly string[],
  isAway: boolean,
  t: Instant,
): void {
  for (const id of panels) {
    const panel = panelOf(wiring, state, id);
    panel.utilityLosses = Math.max(0, panel.utilityLosses + (isAway ? 1 : -1));
    panel.utilityAway = panel.utilityLosses > 0;
    if (!wiring.plan.generator?.panels.includes(id)) feedFromUtility(panel);
  }
  const { generator } = wiring.plan;
  if (!generator || !panels.some((id) => generator.panels.includes(id))) return;
  const backedUp = wiring.backedUp.map((i) => state.panels[i]!);
  utilityMoved(state.generator, generator, backedUp, t);
}

function silence(wiring: Wiring, state: BuildingState, key: string, silent: boolean): void {
  const place = wiring.points.findIndex((point) => `${point.device}/${point.signal}` === key);
  if (place < 0) throw new Error(`no point ${key} in this building`);
  state.silent[place] = silent;
}

function found<T>(run: T | undefined, what: string, id: string): T {
  if (!run) throw new Error(`no ${what} "${id}" in this building`);
  return run;
}

const panelOf = (wiring: Wiring, state: BuildingState, id: string) =>
  found(state.panels[wiring.panels.findIndex(({ panel }) => panel.id === id)], 'panel', id);
const roomOf = (wiring: Wiring, state: BuildingState, id: string) =>
  found(state.rooms[wiring.rooms.findIndex(({ space }) => space.id === id)], 'space', id);
const unitOf = (wiring: Wiring, state: BuildingState, id: string) =>
  found(state.units[wiring.units.findIndex(({ unit }) => unit.id === id)], 'unit', id);
const gatewayOf = (wiring: Wiring, state: BuildingState, id: string) =>
  found(state.gateways[wiring.gateways.findIndex((gateway) => gateway.id === id)], 'gateway', id);
