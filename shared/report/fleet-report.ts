import type { Lockouts, SiteReport, SupplyReport, UnitReport } from './site-report.ts';

/** A month of one site or of many: their figures together, who did worst, and what is other than the month before. */
export interface Totals {
  readonly sites: number;
  readonly spaces: number;
  readonly units: number;
  /** of the known time of all spaces; null where it can be told of none */
  readonly availability: number | null;
  /** spaces of which it can't be told */
  readonly untold: number;
  readonly lostSeconds: number;
  readonly hotSeconds: number;
  readonly runSeconds: number;
  readonly starts: number;
  readonly shortCycles: number;
  readonly softLockouts: Lockouts;
  readonly hardLockouts: Lockouts;
  readonly undervoltageHolds: number;
  readonly contactorFaults: number;
  readonly supply: SupplyReport;
}

export interface WorstUnit {
  readonly site: string;
  readonly siteName: string;
  readonly unit: UnitReport;
}

const WORST_SHOWN = 10;

export function totalsOf(sites: readonly SiteReport[]): Totals {
  const units = sites.flatMap((site) => site.units);
  const spaces = sites.flatMap((site) => site.spaces.map((space) => ({ space, known: site.knownSeconds })));
  const told = spaces.filter(({ space }) => space.availability !== null);
  const known = sumOf(told, (one) => one.known);
  const supplies = sites.map((site) => site.supply);
  return {
    sites: sites.length,
    spaces: spaces.length,
    units: units.length,
    availability: known > 0 ? 1 - sumOf(told, ({ space }) => space.lostSeconds) / known : null,
    untold: spaces.length - told.length,
    lostSeconds: sumOf(spaces, ({ space }) => space.lostSeconds),
    hotSeconds: sumOf(spaces, ({ space }) => space.hotSeconds),
    runSeconds: sumOf(units, (unit) => unit.runSeconds),
    starts: sumOf(units, (unit) => unit.starts),
    shortCycles: sumOf(units, (unit) => unit.shortCycles),
    softLockouts: together(units.map((unit) => unit.softLockouts)),
    hardLockouts: together(units.map((unit) => unit.hardLockouts)),
    undervoltageHolds: sumOf(units, (unit) => unit.undervoltageHolds),
    contactorFaults: sumOf(units, (unit) => unit.contactorFaults),
    supply: {
      sags: addedUp(supplies.map(({ sags }) => sags)),
      swells: addedUp(supplies.map(({ swells }) => swells)),
      interruptions: addedUp(supplies.map(({ interruptions }) => interruptions)),
      restarts: sumOf(supplies, ({ restarts }) => restarts),
      together: sumOf(supplies, (one) => one.together),
    },
  };
}

/**
 * The units that most need somebody, worst first: by hard lockouts, then faults of contactor or compressor, soft lockouts,
 * undervoltage holds, short cycles [ours: the order of what ends cooling soonest]. A unit with none of these isn't named.
 */
export function worstUnits(sites: readonly SiteReport[]): WorstUnit[] {
  return sites
    .flatMap((site) => site.units.map((unit) => ({ site: site.id, siteName: site.name, unit })))
    .filter(({ unit }) => badness(unit).some((count) => count > 0))
    .toSorted((a, b) => worseFirst(a, b) || byName(a, b))
    .slice(0, WORST_SHOWN);
}

const badness = (unit: UnitReport): readonly number[] => [
  unit.hardLockouts.all,
  unit.contactorFaults,
  unit.softLockouts.all,
  unit.undervoltageHolds,
  unit.shortCycles,
];

function worseFirst({ unit: a }: WorstUnit, { unit: b }: WorstUnit): number {
  const [of, other] = [badness(a), badness(b)];
  const i = of.findIndex((count, at) => count !== other[at]);
  return i < 0 ? 0 : other[i]! - of[i]!;
}

function byName(a: WorstUnit, b: WorstUnit): number {
  const [one, other] = [`${a.site}/${a.unit.id}`, `${b.site}/${b.unit.id}`];
  return one < other ? -1 : one > other ? 1 : 0;
}

function together(all: readonly Lockouts[]): Lockouts {
  return { all: sumOf(all, (one) => one.all), causes: addedUp(all.map(({ causes }) => causes)) };
}

function addedUp(all: readonly Readonly<Record<string, number>>[]): Record<string, number> {
  const sum: Record<string, number> = {};
  for (const counts of all)
    for (const [of, count] of Object.entries(counts)) sum[of] = (sum[of] ?? 0) + count;
  return sum;
}

const sumOf = <T>(all: readonly T[], value: (one: T) => number): number =>
  all.reduce((sum, one) => sum + value(one), 0);
