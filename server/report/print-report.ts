import {
  earlierText,
  monthName,
  hoursText,
  availabilityText,
  REPORT_ROWS,
  reportCaveat,
  reportLine,
  worstText,
} from '../../shared/wire/report-sentences.ts';
import type { ReportAnswer } from '../../shared/wire/report-answer.ts';
import { parseInstant } from '../../shared/base/instant.ts';
import { figures, paperOf, type Block, type PrintedDocument } from '../print/blocks.ts';

/** The month's report on paper: what the page says, in its order. */
export function printedReport(report: ReportAnswer): PrintedDocument {
  const { month, siteName, timeZone } = report;
  return {
    title: `${siteName ?? 'All sites'}, ${monthName(month)}`,
    foot: timeZone === null ? 'Each site’s month by its own wall clock' : `Times in ${timeZone}`,
    paper: paperOf(timeZone ?? ''),
    madeAt: parseInstant(report.serverTime)!,
    blocks: [
      { kind: 'paragraph', text: reportLine(report) },
      { kind: 'paragraph', text: reportCaveat(report), small: true },
      { kind: 'heading', text: 'Beside the month before' },
      monthsTable(report),
      ...worstBlocks(report),
      ...siteBlocks(report),
      ...roomBlocks(report),
      ...unitBlocks(report),
    ],
  };
}

const monthsTable = ({ month, totals, before }: ReportAnswer): Block => ({
  kind: 'table',
  columns: [
    { name: '', width: 4 },
    { name: monthName(month), width: 4 },
    { name: monthName(before.month), width: 4 },
  ],
  rows: REPORT_ROWS.map((row) => [row.name, row.of(totals), earlierText(row, before)]),
});

function worstBlocks({ worst }: ReportAnswer): Block[] {
  if (worst.length === 0) return [];
  return [
    { kind: 'heading', text: 'Units that most need somebody' },
    {
      kind: 'list',
      items: worst.map(({ siteName, unit }) => `${siteName}, ${unit.name}: ${worstText(unit)}`),
    },
  ];
}

function siteBlocks({ sites }: ReportAnswer): Block[] {
  if (sites.length === 0) return [];
  return [
    { kind: 'heading', text: 'Sites, the least available first' },
    {
      kind: 'table',
      columns: [
        { name: 'Site', width: 5 },
        figures('Available', 2),
        figures('Without cooling', 2.4),
        figures('Hard lockouts', 2),
        figures('Soft lockouts', 2),
        figures('Restarts', 1.6),
      ],
      rows: sites.map(({ name, totals }) => [
        name,
        availabilityText(totals.availability),
        hoursText(totals.lostSeconds),
        String(totals.hardLockouts.all),
        String(totals.softLockouts.all),
        String(totals.supply.restarts),
      ]),
    },
  ];
}

function roomBlocks({ spaces }: ReportAnswer): Block[] {
  if (spaces.length === 0) return [];
  return [
    { kind: 'heading', text: 'Rooms' },
    {
      kind: 'table',
      columns: [
        { name: 'Room', width: 5 },
        figures('Cooling available', 3),
        figures('Without cooling', 3),
        figures('Cooling reduced', 3),
        figures('Above the limit', 3),
      ],
      rows: spaces.map(({ name, availability, lostSeconds, reducedSeconds, hotSeconds }) => [
        name,
        availabilityText(availability),
        hoursText(lostSeconds),
        hoursText(reducedSeconds),
        hoursText(hotSeconds),
      ]),
    },
  ];
}

function unitBlocks({ units }: ReportAnswer): Block[] {
  if (units.length === 0) return [];
  return [
    { kind: 'heading', text: 'Units' },
    {
      kind: 'table',
      columns: [
        { name: 'Unit', width: 4 },
        figures('Hours run', 2),
        figures('Starts', 1.6),
        figures('Short cycles', 2),
        figures('Soft lockouts', 2.2),
        figures('Hard lockouts', 2.2),
        figures('Holds', 1.6),
        figures('Contactor', 1.8),
      ],
      rows: units.map((unit) => [
        unit.name,
        hoursText(unit.runSeconds),
        String(unit.starts),
        String(unit.shortCycles),
        String(unit.softLockouts.all),
        String(unit.hardLockouts.all),
        String(unit.undervoltageHolds),
        String(unit.contactorFaults),
      ]),
    },
  ];
}
