import { csvOf, type Cell } from '../../shared/wire/csv.ts';
import type { ReportAnswer, WireTotals } from '../../shared/wire/report-answer.ts';

/** The report's tables as CSV: figures in hours, shares and counts, to be reckoned with. */
export const REPORT_TABLES = ['sites', 'rooms', 'units'] as const;
export type ReportTable = (typeof REPORT_TABLES)[number];

export function reportCsv(report: ReportAnswer, table: ReportTable): string {
  switch (table) {
    case 'sites':
      return csvOf(SITE_COLUMNS, siteRows(report));
    case 'rooms':
      return csvOf(ROOM_COLUMNS, roomRows(report));
    case 'units':
      return csvOf(UNIT_COLUMNS, unitRows(report));
  }
}

const DID = [
  'run_hours',
  'starts',
  'short_cycles',
  'soft_lockouts',
  'hard_lockouts',
  'undervoltage_holds',
  'failed_starts_and_stuck_contactors',
];
const SITE_COLUMNS = [
  'month',
  'site',
  'name',
  'availability',
  'hours_without_cooling',
  ...DID,
  'sags',
  'restarts',
];
const ROOM_COLUMNS = [
  'month',
  'site',
  'room',
  'name',
  'availability',
  'lost_hours',
  'reduced_hours',
  'hot_hours',
];
const UNIT_COLUMNS = ['month', 'site', 'unit', 'name', ...DID];

const hours = (seconds: number): number => Math.round((seconds / 3600) * 1000) / 1000;

const didOf = (one: Omit<WireTotals, 'supply'> | ReportAnswer['units'][number]): Cell[] => [
  hours(one.runSeconds),
  one.starts,
  one.shortCycles,
  one.softLockouts.all,
  one.hardLockouts.all,
  one.undervoltageHolds,
  one.contactorFaults,
];

function siteRows({ month, site, siteName, sites, totals }: ReportAnswer): Cell[][] {
  const all = site === null ? sites : [{ id: site, name: siteName ?? site, totals }];
  return all.map((one) => [
    month,
    one.id,
    one.name,
    one.totals.availability,
    hours(one.totals.lostSeconds),
    ...didOf(one.totals),
    Object.values(one.totals.supply.sags).reduce((sum, count) => sum + count, 0),
    one.totals.supply.restarts,
  ]);
}

const roomRows = ({ month, site, spaces }: ReportAnswer): Cell[][] =>
  spaces.map(({ id, name, availability, lostSeconds, reducedSeconds, hotSeconds }) => [
    month,
    site,
    id,
    name,
    availability,
    hours(lostSeconds),
    hours(reducedSeconds),
    hours(hotSeconds),
  ]);

const unitRows = ({ month, site, units }: ReportAnswer): Cell[][] =>
  units.map((unit) => [month, site, unit.id, unit.name, ...didOf(unit)]);
