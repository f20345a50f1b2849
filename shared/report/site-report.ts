import type { Site } from '../telemetry/site.ts';
import type { PanelCount, SiteCounts, UnitCount } from './counts.ts';

/** A site's month in figures: what each space had of cooling, what each unit did, what the supply did. */
export interface SpaceReport {
  readonly id: string;
  readonly name: string;
  /** share of the known time in which cooling wasn't lost; null where less than half of the time is known */
  readonly availability: number | null;
  readonly lostSeconds: number;
  readonly reducedSeconds: number;
  readonly hotSeconds: number;
}

export interface UnitReport {
  readonly id: string;
  readonly name: string;
  readonly runSeconds: number;
  readonly starts: number;
  readonly shortCycles: number;
  readonly softLockouts: Lockouts;
  readonly hardLockouts: Lockouts;
  readonly undervoltageHolds: number;
  /** failed starts and stuck contactors */
  readonly contactorFaults: number;
}

/** By cause, and together. */
export interface Lockouts {
  readonly all: number;
  readonly causes: Readonly<Record<string, number>>;
}

export interface SupplyReport {
  /** by IEEE 1159 class; 'not measured' where no meter saw it */
  readonly sags: Readonly<Record<string, number>>;
  readonly swells: Readonly<Record<string, number>>;
  readonly interruptions: Readonly<Record<string, number>>;
  /** returns of power that units waited for */
  readonly restarts: number;
  /** of these, with starts closer together than the panel's minimum */
  readonly together: number;
}

export interface SiteReport {
  readonly id: string;
  readonly name: string;
  readonly timeZone: string;
  readonly seconds: number;
  readonly knownSeconds: number;
  readonly spaces: readonly SpaceReport[];
  readonly units: readonly UnitReport[];
  readonly supply: SupplyReport;
}

/** Below this share of known time a figure of availability would say more about the gateways than about the rooms [ours]. */
const KNOWN_ENOUGH = 0.5;

export function siteReport(site: Site, counts: SiteCounts): SiteReport {
  const { seconds, knownSeconds } = counts;
  return {
    id: site.id,
    name: site.name || site.id,
    timeZone: site.timeZone,
    seconds,
    knownSeconds,
    spaces: site.spaces.map(({ id, name }) => {
      const time = counts.spaces.find(({ space }) => space === id);
      const lostSeconds = time?.lostSeconds ?? 0;
      return {
        id,
        name: name || id,
        availability: availabilityOf(lostSeconds, seconds, knownSeconds),
        lostSeconds,
        reducedSeconds: time?.reducedSeconds ?? 0,
        hotSeconds: time?.hotSeconds ?? 0,
      };
    }),
    units: site.units.map(({ id, name }) => unitReport({ id, name: name || id }, counts)),
    supply: supplyReport(counts.panels),
  };
}

const availabilityOf = (lost: number, seconds: number, known: number): number | null =>
  known <= 0 || known < KNOWN_ENOUGH * seconds ? null : Math.max(0, 1 - lost / known);

function unitReport(unit: { readonly id: string; readonly name: string }, counts: SiteCounts): UnitReport {
  const runs = counts.runs.find((one) => one.unit === unit.id);
  const own = counts.units.filter((one) => one.unit === unit.id);
  const sum = (...kinds: readonly UnitCount['kind'][]): number =>
    own.reduce((all, { kind, count }) => all + (kinds.includes(kind) ? count : 0), 0);
  return {
    ...unit,
    runSeconds: runs?.runSeconds ?? 0,
    starts: runs?.starts ?? 0,
    shortCycles: sum('short-cycle'),
    softLockouts: lockoutsOf(own, 'soft-lockout'),
    hardLockouts: lockoutsOf(own, 'hard-lockout'),
    undervoltageHolds: sum('undervoltage-hold'),
    contactorFaults: sum('failed-start', 'stuck-contactor'),
  };
}

function lockoutsOf(own: readonly UnitCount[], kind: 'soft-lockout' | 'hard-lockout'): Lockouts {
  const causes: Record<string, number> = {};
  for (const one of own) if (one.kind === kind) causes[one.cause] = (causes[one.cause] ?? 0) + one.count;
  return { all: Object.values(causes).reduce((sum, count) => sum + count, 0), causes };
}

function supplyReport(panels: readonly PanelCount[]): SupplyReport {
  const by = (kind: PanelCount['kind']): Record<string, number> => {
    const counts: Record<string, number> = {};
    for (const one of panels) if (one.kind === kind) counts[one.of] = (counts[one.of] ?? 0) + one.count;
    return counts;
  };
  const restarts = by('restart-sequence');
  return {
    sags: by('voltage-sag'),
    swells: by('voltage-swell'),
    interruptions: by('interruption'),
    restarts: Object.values(restarts).reduce((sum, count) => sum + count, 0),
    together: restarts['simultaneous'] ?? 0,
  };
}
