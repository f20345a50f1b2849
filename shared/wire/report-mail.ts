import type { ReportAnswer } from './report-answer.ts';
import {
  earlierText,
  monthName,
  REPORT_ROWS,
  reportCaveat,
  reportLine,
  worstText,
} from './report-sentences.ts';

/** The month's report as a mail: the answer, the figures beside the month before, the worst; the rest is attached. */
export function reportMail(
  report: ReportAnswer,
  url: string,
): { readonly subject: string; readonly text: string } {
  const { month, totals, before, worst } = report;
  const rows = REPORT_ROWS.map(
    (row) => `  ${row.name}: ${row.of(totals)}; in ${monthName(before.month)} ${earlierText(row, before)}`,
  );
  const named = worst.map(({ siteName, unit }) => `  ${siteName}, ${unit.name}: ${worstText(unit)}`);
  const parts = [
    reportLine(report),
    reportCaveat(report),
    rows.join('\n'),
    ...(named.length > 0 ? [['Units that most need somebody:', ...named].join('\n')] : []),
    `Attached as it is printed. Where it is read: ${url}`,
  ];
  return { subject: `${monthName(month)}: your sites’ month`, text: `${parts.join('\n\n')}\n` };
}
