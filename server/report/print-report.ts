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
import { paperOf, type Block, type PrintedDocument } from '../print/blocks.ts';
import { printPdf } from '../print/print-pdf.ts';

/** The month's report on paper: what the page says, in its order. */
export const printReport = (report: ReportAnswer): Promise<Buffer> => printPdf(documentOf(report));

function documentOf(report: ReportAnswer): PrintedDocument {
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
        { name: 'Available', width: 2, align: 'right' },
        { name: 'Without cooling', width: 2.4, align: 'right' },
        { name: 'Hard lockouts', width: 2, align: 'right' },
        { name: 'Soft lockouts', width: 2, align: 'right' },
        { name: 'Restarts', width: 1.6, align: 'right' },
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
        { name: 'Cooling available', width: 3, align: 'right' },
        { name: 'Without cooling', width: 3, align: 'right' },
        { name: 'Cooling reduced', width: 3, align: 'right' },
        { name: 'Above the limit', width: 3, align: 'right' },
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
        { name: 'Hours run', width: 2, align: 'right' },
        { name: 'Starts', width: 1.6, align: 'right' },
        { name: 'Short cycles', width: 2, align: 'right' },
        { name: 'Soft lockouts', width: 2.2, align: 'right' },
        { name: 'Hard lockouts', width: 2.2, align: 'right' },
        { name: 'Holds', width: 1.6, align: 'right' },
        { name: 'Contactor', width: 1.8, align: 'right' },
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
