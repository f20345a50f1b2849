import type { Instant } from '../base/instant.ts';
import { control, type Control } from '../control/control.ts';
import { pickSettings, withTimerError } from '../control/settings.ts';
import {
  added,
  generatorImpedance,
  inverse,
  loadImpedance,
  NO_LOAD,
  transformerImpedance,
  type Phasor,
} from '../power/starting-dip.ts';
import type { Panel, Point, Site, Space, Unit } from '../telemetry/site.ts';
import { keyOf } from './noise.ts';
import type { BuildingPlan, ControllerPlan, PanelPlan, RoomPlan, UnitPlan } from './plan.ts';

/** Document and plan put together once: who is wired to whom, by index, and the impedances. */
export interface Wiring {
  readonly site: Site;
  readonly plan: BuildingPlan;
  readonly rooms: readonly RoomWiring[];
  readonly panels: readonly PanelWiring[];
  readonly units: readonly UnitWiring[];
  readonly controllers: readonly ControllerWiring[];
  readonly gateways: readonly GatewayWiring[];
  readonly points: readonly Point[];
  /** indices of the generator's panels */
  readonly backedUp: readonly number[];
  readonly key: number;
}

export interface RoomWiring {
  readonly space: Space;
  readonly plan: RoomPlan;
  readonly inUse: readonly InUse[];
  readonly units: readonly number[];
}

/** weekdays counted from Monday = 0, and hours of the day */
export interface InUse {
  readonly days: readonly boolean[];
  readonly from: number;
  readonly to: number;
}

export interface PanelWiring {
  readonly panel: Panel;
  readonly plan: PanelPlan;
  readonly units: readonly number[];
  /** source impedance by utility and by generator */
  readonly utilityImpedance: Phasor;
  readonly generatorImpedance: Phasor;
  readonly otherLoad: Phasor;
}

export interface UnitWiring {
  readonly unit: Unit;
  readonly plan: UnitPlan;
  readonly control: Control;
  readonly room: number;
  readonly panel: number;
  readonly lockedRotorAmps: number;
  readonly ratedLoadAmps: number;
  /** admittances while starting and while running */
  readonly starting: Phasor;
  readonly running: Phasor;
  readonly key: number;
}

export interface ControllerWiring {
  readonly plan: ControllerPlan;
  readonly room: number;
  readonly units: readonly number[];
}

export interface GatewayWiring {
  readonly id: string;
  /** its points that report on change, those it polls by period, and how often it looks at its contacts, seconds */
  readonly onChange: readonly number[];
  readonly polls: readonly { readonly seconds: number; readonly points: readonly number[] }[];
  readonly scanSeconds: number;
  readonly heartbeatSeconds: number | null;
  readonly fedFrom: number | null;
  readonly bootSeconds: number;
  readonly key: number;
}

export function wire(site: Site, plan: BuildingPlan, heartbeat?: number): Wiring {
  const units = site.units.map((unit) => wireUnit(unit, site, plan));
  const points = pointsOf(site);
  return {
    site,
    plan,
    units,
    points,
    rooms: site.spaces.map((space, i) => ({
      space,
      plan: planned(plan.rooms, space.id, 'room'),
      inUse: space.inUse.map(parseInUse),
      units: indices(units, (unit) => unit.room === i),
    })),
    panels: site.panels.map((panel, i) =>
      wirePanel(
        panel,
        plan,
        indices(units, (unit) => unit.panel === i),
      ),
    ),
    controllers: plan.controllers.map((each) => wireController(each, site)),
    gateways: site.gateways.map(({ id, heartbeatSeconds }) =>
      wireGateway(id, heartbeat ?? heartbeatSeconds, points, site, plan),
    ),
    backedUp: (plan.generator?.panels ?? []).map((id) => placeOf(site.panels, id)),
    key: keyOf(site.id),
  };
}

function planned<T>(plans: Readonly<Record<string, T>>, id: string, what: string): T {
  const found = plans[id];
  if (!found) throw new Error(`the building's plan has no ${what} "${id}"`);
  return found;
}

function placeOf(list: readonly { readonly id: string }[], id: string): number {
  const place = list.findIndex((each) => each.id === id);
  if (place < 0) throw new Error(`the site's document has no "${id}"`);
  return place;
}

const indices = <T>(list: readonly T[], wanted: (item: T) => boolean): number[] =>
  list.flatMap((item, i) => (wanted(item) ? [i] : []));

/** Every point once: a shared alarm contact stands at the site and in each of its units. */
function pointsOf(site: Site): Point[] {
  const all = [
    ...site.points,
    ...[...site.spaces, ...site.panels, ...site.units].flatMap(({ points }) => points),
  ];
  return [...new Map(all.map((point) => [`${point.device}/${point.signal}`, point])).values()];
}

function wireUnit(unit: Unit, site: Site, building: BuildingPlan): UnitWiring {
  const plan = planned(building.units, unit.id, 'unit');
  const panel = site.panels[placeOf(site.panels, unit.panel)]!;
  // where the nameplate isn't recorded: a small unit, from memory
  const lockedRotorAmps = unit.nameplate.lockedRotorAmps ?? 96;
  const ratedLoadAmps = unit.nameplate.ratedLoadAmps ?? 18;
  const load = (amps: number, powerFactor: number): Phasor =>
    inverse(loadImpedance({ volts: panel.nominalVoltage, amps, powerFactor, phases: panel.phases }));
  return {
    unit,
    plan,
    control: control(withTimerError({ ...pickSettings(unit.protection), ...plan.control }, plan.timerError)),
    room: placeOf(site.spaces, unit.space),
    panel: placeOf(site.panels, unit.panel),
    lockedRotorAmps,
    ratedLoadAmps,
    starting: load(lockedRotorAmps, plan.startPowerFactor),
    running: load(ratedLoadAmps, plan.runPowerFactor),
    key: keyOf(unit.id),
  };
}

function wirePanel(panel: Panel, building: BuildingPlan, units: readonly number[]): PanelWiring {
  const plan = planned(building.panels, panel.id, 'panel');
  const volts = panel.nominalVoltage;
  const supply = panel.supply ?? { ratedKva: 50, impedancePercent: 2, reactanceToResistance: 1.5 };
  const transformer = transformerImpedance({
    volts,
    kva: supply.ratedKva,
    percent: supply.impedancePercent,
    reactanceToResistance: supply.reactanceToResistance,
  });
  const standby = building.generator;
  return {
    panel,
    plan,
    units,
    utilityImpedance: added(transformer, plan.conductors),
    generatorImpedance: standby
      ? added(generatorImpedance(volts, standby.kva, standby.transientReactance), plan.conductors)
      : NO_LOAD,
    otherLoad:
      plan.otherAmps > 0
        ? inverse(loadImpedance({ volts, amps: plan.otherAmps, powerFactor: 0.95, phases: panel.phases }))
        : NO_LOAD,
  };
}

const wireController = (plan: ControllerPlan, site: Site): ControllerWiring => ({
  plan,
  room: placeOf(site.spaces, plan.space),
  units: plan.units.map((id) => placeOf(site.units, id)),
});

function wireGateway(
  id: string,
  heartbeatSeconds: number | null,
  points: readonly Point[],
  site: Site,
  building: BuildingPlan,
): GatewayWiring {
  const own = indices(points, (point) => point.gateway === id);
  const onChange = own.filter((i) => points[i]!.reporting.mode === 'on-change');
  const polled = own.filter((i) => points[i]!.reporting.mode === 'polled');
  const periodOf = (i: number): number => {
    const { reporting } = points[i]!;
    return reporting.mode === 'polled' ? reporting.seconds : 0;
  };
  const plan = building.gateways?.[id];
  return {
    id,
    onChange,
    polls: [...new Set(polled.map(periodOf))]
      .sort((a, b) => a - b)
      .map((period) => ({ seconds: period, points: polled.filter((i) => periodOf(i) === period) })),
    scanSeconds: Math.max(0.01, Math.min(0.1, ...onChange.map((i) => points[i]!.resolutionSeconds))),
    heartbeatSeconds,
    fedFrom: plan ? placeOf(site.panels, plan.fedFrom) : null,
    bootSeconds: plan?.bootSeconds ?? 0,
    key: keyOf(id),
  };
}

const WEEKDAYS = ['mon', 'tue', 'wed', 'thu', 'fri', 'sat', 'sun'];

/** `mon-fri,sun` and two clock times; a range may run over the week's end. */
export function parseInUse(period: {
  readonly days: string;
  readonly from: string;
  readonly to: string;
}): InUse {
  const days = WEEKDAYS.map(() => false);
  for (const part of period.days.split(',')) {
    const [first, last = first] = part.split('-').map((name) => WEEKDAYS.indexOf(name));
    for (let i = first!; ; i = (i + 1) % 7) {
      days[i] = true;
      if (i === last) break;
    }
  }
  return { days, from: clockHour(period.from), to: clockHour(period.to) };
}

function clockHour(text: string): number {
  const [hour = 0, minute = 0] = text.split(':').map(Number);
  return hour + minute / 60;
}

/** 1970-01-01 was a Thursday. */
export const isInUse = (inUse: readonly InUse[], day: number, hour: number): boolean =>
  inUse.some(({ days, from, to }) => days[(((day + 3) % 7) + 7) % 7] && hour >= from && hour < to);

/** The next instant of a train of instants `period` apart (in µs) with its own phase, after `t`. */
export const nextOf = (period: number, phase: number, t: Instant): Instant =>
  (Math.floor((t - phase) / period) + 1) * period + phase;
