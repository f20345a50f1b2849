import { seconds, type Instant } from '../../base/instant.ts';
import type { Point, Protection, Site, Unit } from '../../telemetry/site.ts';
import { signalRow, type SignalName } from '../../telemetry/signals.ts';
import type { FoldContext } from '../fold.ts';
import { clockDoubt } from '../members/wired.ts';
import { IN_RANGE, levelOf } from './voltage-range.ts';
import { smallDifference } from './weak-cooling.ts';
import { pointKey, pointsOf, versionAt } from '../sources.ts';

/**
 * What a unit's wiring and settings are to its rules, in the version of the configuration that holds: which source
 * feeds which track, and the durations in microseconds.
 */
export type Role =
  'power' | 'healthy' | 'level' | 'call' | 'high' | 'low' | 'air' | 'current' | 'output' | 'alarm';

/** Order at one instant: power, call, switches, then what they cause (handbook 2.2, 8). */
export const ROLES: readonly Role[] = [
  'power',
  'call',
  'high',
  'low',
  'healthy',
  'level',
  'air',
  'current',
  'output',
  'alarm',
];

export interface Wire {
  readonly point: Point;
  readonly index: number;
  readonly signal: SignalName;
  readonly onChange: boolean;
  /** polling period, µs; 0 for on-change */
  readonly period: number;
  readonly resolution: number;
  readonly debounce: number;
  /** µs by which its times may differ from the unit's: both clocks' uncertainties where another gateway reads it */
  readonly doubt: number;
  /** for a contact: raw to asserted */
  readonly contact: ((value: number) => number) | null;
  readonly roles: readonly {
    readonly role: Role;
    readonly of: (value: number, was: number | null) => number;
  }[];
  /** values that are all the same to its roles; null: it has no such stretch worth knowing */
  readonly isCalm: ((value: number) => boolean) | null;
}

export interface Wiring {
  readonly unit: Unit;
  readonly protection: Protection;
  /** by source index */
  readonly bySource: readonly (Wire | null)[];
  readonly byRole: Readonly<Partial<Record<Role, Wire>>>;
  /** the signal that runs are read from, handbook 4 rule 1 */
  readonly runsFrom: SignalName | null;
  /** fixed look-ahead of every decision, µs */
  readonly lookAhead: number;
  /** the most that any wire's clock is in doubt, µs */
  readonly doubt: number;
}

/** V; below it control power is gone (handbook 4 rule 10) */
const POWER_GONE = 5;
/** V AC; coil voltages are judged against it (handbook 2) */
const NOMINAL_CONTROL = 24;
/** how long after a stop its alarm may move and still belong to it; a relay takes tens of ms [from memory] */
export const ALARM_LAG = seconds(1);
const LONGEST_LOOK_AHEAD = seconds(60);

const cache = new WeakMap<FoldContext, Map<number, Wiring | null>>();

/** The last answer, since the next sample nearly always asks for the same. */
let latest: {
  readonly context: FoldContext;
  readonly version: number;
  readonly wiring: Wiring | null;
} | null = null;

/** The wiring that held at an instant; null where that version of the site doesn't have the unit. */
export function wiringAt(context: FoldContext, at: Instant): Wiring | null {
  const version = context.history.length === 1 ? 0 : versionAt(context.history, at);
  if (latest && latest.context === context && latest.version === version) return latest.wiring;
  let versions = cache.get(context);
  if (!versions) cache.set(context, (versions = new Map()));
  let wiring = versions.get(version);
  if (wiring === undefined) versions.set(version, (wiring = readWiring(context, version)));
  latest = { context, version, wiring };
  return wiring;
}

function readWiring(context: FoldContext, version: number): Wiring | null {
  const { site } = context.history[version]!;
  const unit = site.units.find((one) => one.id === context.subject.device);
  if (!unit) return null;
  const points = new Map(pointsOf(site, context.subject).map((point) => [pointKey(point), point]));
  const signals = new Set([...points.values()].map(({ signal }) => signal));
  const runsFrom = (['compressor-output', 'contactor-voltage', 'compressor-current'] as const).find(
    (signal) => signals.has(signal),
  );
  const clock = [...points.values()].find(({ signal }) => signal === runsFrom) ?? unit.points[0] ?? null;
  const bySource = context.sources.map(({ kind, key }, index) => {
    const point = kind === 'point' ? points.get(key) : undefined;
    return point ? wireOf({ site, unit, runsFrom: runsFrom ?? null, clock }, point, index) : null;
  });
  const byRole: Partial<Record<Role, Wire>> = {};
  for (const wire of bySource) for (const { role } of wire?.roles ?? []) byRole[role] = wire!;
  const doubt = Math.max(0, ...bySource.map((wire) => wire?.doubt ?? 0));
  const lag = Math.max(byRole.alarm ? ALARM_LAG : 0, Math.min(byRole.power?.period ?? 0, LONGEST_LOOK_AHEAD));
  const { protection } = unit;
  return { unit, protection, bySource, byRole, runsFrom: runsFrom ?? null, lookAhead: lag + doubt, doubt };
}

interface Wired {
  readonly site: Site;
  readonly unit: Unit;
  readonly runsFrom: SignalName | null;
  /** whose gateway's time the unit's events are in: the point that its runs are read from */
  readonly clock: Point | null;
}

function wireOf({ site, unit, runsFrom, clock }: Wired, point: Point, index: number): Wire {
  return {
    point,
    index,
    signal: point.signal,
    onChange: point.reporting.mode === 'on-change',
    period: point.reporting.mode === 'polled' ? seconds(point.reporting.seconds) : 0,
    resolution: seconds(point.resolutionSeconds),
    debounce: seconds(point.debounceSeconds),
    doubt: seconds(clockDoubt(site, clock, point)),
    contact: signalRow(point.signal).kind === 'contact' ? assertedBy(point) : null,
    roles: rolesOf(unit, point, runsFrom),
    isCalm: point.signal === 'control-voltage' ? calmVoltage(unit, point) : null,
  };
}

/** Healthy and in range (voltage-range.ts), and within what the point may read: nine in ten samples of most records. */
function calmVoltage({ protection }: Unit, { range }: Point): (value: number) => boolean {
  const low = Math.max(IN_RANGE[0], protection.undervoltageTrip.value ?? IN_RANGE[0], range[0]);
  const high = Math.min(IN_RANGE[1], range[1]);
  return (value) => value >= low && value <= high;
}

function rolesOf(unit: Unit, point: Point, runsFrom: SignalName | null): Wire['roles'] {
  const asserted = assertedBy(point);
  const output = runsFrom === point.signal;
  switch (point.signal) {
    case 'cooling-call':
      return [{ role: 'call', of: asserted }];
    case 'high-pressure':
      return [{ role: 'high', of: asserted }];
    case 'low-pressure':
      return [{ role: 'low', of: asserted }];
    case 'lockout-alarm':
      return [{ role: 'alarm', of: asserted }];
    case 'compressor-output':
      return [{ role: 'output', of: asserted }];
    case 'control-voltage':
      return controlVoltageRoles(unit.protection.undervoltageTrip.value);
    case 'contactor-voltage':
      return output ? [{ role: 'output', of: between(0.75 * NOMINAL_CONTROL, 0.85 * NOMINAL_CONTROL) }] : [];
    case 'supply-air-temperature':
    case 'return-air-temperature':
      return [{ role: 'air', of: smallDifference(unit) }];
    case 'compressor-current': {
      const amps = 0.2 * (unit.nameplate.ratedLoadAmps ?? 10);
      const flows = (value: number) => (value > amps ? 1 : 0);
      return [{ role: 'current', of: flows }, ...(output ? [{ role: 'output' as const, of: flows }] : [])];
    }
    default:
      return [];
  }
}

/** Whether closed means asserted is the point's own setting (contract 1.1). */
const assertedBy = ({ contact }: Point) =>
  contact === 'normally-open'
    ? (value: number) => (value >= 0.5 ? 1 : 0)
    : (value: number) => (value >= 0.5 ? 0 : 1);

const controlVoltageRoles = (trip: number | null): Wire['roles'] => [
  { role: 'power', of: (value) => (value < POWER_GONE ? 0 : 1) },
  { role: 'level', of: levelOf },
  ...(trip === null ? [] : [{ role: 'healthy' as const, of: (value: number) => (value < trip ? 0 : 1) }]),
];

/** On above `on`, off below `off`, as before in between (handbook 4 rule 1). */
const between =
  (off: number, on: number) =>
  (value: number, was: number | null): number =>
    value > on ? 1 : value < off ? 0 : (was ?? 0);
