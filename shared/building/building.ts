import { inSeconds, seconds, SECOND, type Instant } from '../base/instant.ts';
import type { Site } from '../telemetry/site.ts';
import type { BuildingState } from './building-state.ts';
import { lineVoltage } from './circuit.ts';
import { decideCalls } from './controllers.ts';
import { gateways, type Gateways } from './gateways.ts';
import { happen, type HappeningEdge } from './happenings.ts';
import type { BuildingPlan } from './plan.ts';
import { warmRoom } from './room.ts';
import { STANDBY, supplyDue } from './supply.ts';
import { NO_OUTPUT, type BuildingOutput } from './truth.ts';
import { beginUnit, coolingOf, nextOfUnit, passUnit, stepUnit, unitDue } from './units.ts';
import { localHour, outdoorTemperature, sunShare } from './weather.ts';
import { isInUse, nextOf, wire, type Wiring } from './wiring.ts';

/**
 * The simulated building. Time goes from instant to instant at which something happens: a step of the 5 s grid, a
 * delay that ends, a contactor that moves, a gateway that looks, an edge of a happening. Between them temperatures and
 * pressures settle. The same plan, seed, begin and happenings give the same messages and the same truth, however the
 * run is cut into advances, and whether or not its state was written down and read back in between.
 */
export interface Building {
  readonly site: Site;
  /** a building at rest, some hours before `t`, brought to just before `t` without telling anyone */
  begin(t: Instant): BuildingState;
  /** takes over a state that was written down, or made by a building with another heartbeat */
  resume(state: BuildingState): BuildingState;
  /** writes `state` on, through everything at or before `until`; `edges` in time order, those of the past are passed over */
  advance(state: BuildingState, until: Instant, edges: readonly HappeningEdge[], out: BuildingOutput): void;
}

export interface BuildingOptions {
  /** how often gateways really show that they live; left out: as often as they promise */
  readonly heartbeatSeconds?: number;
}

const GRID = 5 * SECOND;
const WARM_UP = 6 * 3600 * SECOND;

export function building(site: Site, plan: BuildingPlan, options: BuildingOptions = {}): Building {
  const wiring = wire(site, plan, options.heartbeatSeconds);
  const watchers = gateways(wiring);
  const advance: Building['advance'] = (state, until, edges, out) => {
    let next = firstAfter(edges, state.t);
    for (;;) {
      const t = Math.min(nextInstant(state, watchers), edges[next]?.at ?? Infinity);
      if (t > until) return;
      const first = next;
      while (edges[next]?.at === t) next++;
      toInstant({ wiring, watchers, state, out }, t, edges.slice(first, next));
    }
  };
  return {
    site,
    begin: (t) => {
      const state = rest(wiring, watchers, nextOf(GRID, 0, t - WARM_UP));
      advance(state, t - 1, [], NO_OUTPUT);
      state.told.fill(null);
      return state;
    },
    resume: (state) => {
      const fresh = watchers.begin(state.t);
      return {
        ...state,
        gateways: state.gateways.map((run, i) => ({ ...run, heartbeatAt: fresh[i]!.heartbeatAt })),
      };
    },
    advance,
  };
}

function rest(wiring: Wiring, watchers: Gateways, t: Instant): BuildingState {
  const { weather, seed, utcOffsetHours } = wiring.plan;
  const outdoors = outdoorTemperature(weather, seed, utcOffsetHours, t);
  return {
    t,
    outdoors,
    rooms: wiring.rooms.map(() => ({ air: 25, mass: 25, setPoint: null, heat: 0, overLimit: false })),
    panels: wiring.panels.map(({ panel }) => ({
      utilityLosses: 0,
      utilityAway: false,
      utilityShare: 1,
      source: 'utility',
      volts: panel.nominalVoltage,
    })),
    units: wiring.units.map((unit) => beginUnit(unit, outdoors, 25, t)),
    controllers: wiring.controllers.map(({ units }) => ({
      on: units.map(() => false),
      offSince: t - 3600 * SECOND,
      bootsUntil: null,
    })),
    generator: { ...STANDBY },
    gateways: watchers.begin(t),
    told: wiring.points.map(() => null),
    silent: wiring.points.map(() => false),
  };
}

function firstAfter(edges: readonly HappeningEdge[], t: Instant): number {
  let low = 0;
  let high = edges.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (edges[middle]!.at > t) high = middle;
    else low = middle + 1;
  }
  return low;
}

function nextInstant(state: BuildingState, watchers: Gateways): Instant {
  let next = nextOf(GRID, 0, state.t);
  if (state.generator.dueAt !== null && state.generator.dueAt < next) next = state.generator.dueAt;
  for (const unit of state.units) next = Math.min(next, nextOfUnit(unit));
  return Math.min(next, watchers.nextAt(state));
}

interface Scene {
  readonly wiring: Wiring;
  readonly watchers: Gateways;
  readonly state: BuildingState;
  readonly out: BuildingOutput;
}

/** Time passes to `t`, then what happens at `t`: outside, the supply, the calls, the units, who sees it. */
function toInstant(scene: Scene, t: Instant, edges: readonly HappeningEdge[]): void {
  const { wiring, state, out } = scene;
  const passed = inSeconds(t - state.t);
  if (passed > 0) pass(wiring, state, passed, t);
  state.t = t;
  const sources = state.panels.map(({ source }) => source);
  for (const edge of edges) happen(wiring, state, edge);
  moveSupply(wiring, state, t);
  state.panels.forEach(({ source }, i) => {
    if (source !== sources[i])
      out.truth({ at: t, device: wiring.panels[i]!.panel.id, kind: 'source', source });
  });
  const onGrid = t % GRID === 0;
  if (onGrid) decideCalls(wiring, state, t);
  state.units.forEach((_, i) => unitDue(wiring, state, i, t, out));
  state.panels.forEach((_, i) => feed(scene, i, t));
  state.units.forEach((_, i) => stepUnit(wiring, state, i, t, out));
  if (onGrid) watchLimits(scene, t);
  scene.watchers.attend(state, t, out);
}

function pass(wiring: Wiring, state: BuildingState, passed: number, t: Instant): void {
  const { weather, seed, utcOffsetHours } = wiring.plan;
  const sun = sunShare(seed, utcOffsetHours, t);
  const { hour, day } = localHour(t, utcOffsetHours);
  state.units.forEach((_, i) => passUnit(wiring, state, i, passed));
  wiring.rooms.forEach(({ plan, inUse, units }, i) => {
    const room = state.rooms[i]!;
    const people = isInUse(inUse, day, hour) ? plan.inUse : 0;
    let gain = plan.sun * sun + plan.equipment + people + room.heat;
    for (const unit of units) gain -= coolingOf(wiring, state, unit);
    warmRoom(room, plan, { seconds: passed, outdoors: state.outdoors, gain });
  });
  state.outdoors = outdoorTemperature(weather, seed, utcOffsetHours, t);
}

function moveSupply(wiring: Wiring, state: BuildingState, t: Instant): void {
  const { generator } = wiring.plan;
  if (!generator || state.generator.dueAt === null || state.generator.dueAt > t) return;
  supplyDue(
    state.generator,
    generator,
    wiring.backedUp.map((i) => state.panels[i]!),
    t,
  );
}

/** The line voltage that the source and what runs make of it, and how far motors that start pull it down. */
function feed({ wiring, state, out }: Scene, place: number, t: Instant): void {
  const panel = state.panels[place]!;
  const { panel: site, units } = wiring.panels[place]!;
  panel.volts = lineVoltage(wiring, state, place, t);
  const justStarted = units.some((i) => {
    const { inrushUntil } = state.units[i]!;
    return inrushUntil !== null && inrushUntil === t + seconds(wiring.units[i]!.plan.startSeconds);
  });
  if (!justStarted) return;
  const starting = units.filter((i) => state.units[i]!.inrushUntil !== null);
  const names = starting.map((i) => wiring.units[i]!.unit.id);
  out.truth({ at: t, device: site.id, kind: 'dip', volts: panel.volts, starting: names });
}

function watchLimits({ wiring, state, out }: Scene, t: Instant): void {
  wiring.rooms.forEach(({ space }, i) => {
    const room = state.rooms[i]!;
    const isOver = space.temperatureLimit !== null && room.air > space.temperatureLimit;
    if (isOver === room.overLimit) return;
    room.overLimit = isOver;
    out.truth({ at: t, device: space.id, kind: 'over-limit', on: isOver });
  });
}
