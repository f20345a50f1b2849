import { readUsableChannels } from '../../db/channels.ts';
import { announceNotices } from '../../db/escalations.ts';
import { addDelivery, type MessageBody } from '../../db/notices.ts';
import { claimReport, readReportPeople, type ReportPerson } from '../../db/reports.ts';
import { parseMonth } from '../../shared/report/month.ts';
import { dueReport } from '../../shared/report/due.ts';
import type { ReportAnswer } from '../../shared/wire/report-answer.ts';
import { reportMail } from '../../shared/wire/report-mail.ts';
import { printPdf } from '../print/print-pdf.ts';
import { printedReport } from '../report/print-report.ts';
import { readReport } from '../report/read-report.ts';
import type { DigestMeans } from './take-digests.ts';

/**
 * Sends the month's reports that are due: the row of the month and its messages in one transaction, so that of several
 * servers, and through any restart, one sends it. Added up and printed before that transaction, for it takes its time.
 */
export async function takeReports(means: DigestMeans): Promise<number> {
  let made = 0;
  for (const person of await readReportPeople(means.database)) {
    const month = dueReport(person.settings, person.lastMonth, means.now());
    if (month !== null && (await sendOne(means, person, month))) made++;
  }
  return made;
}

async function sendOne(means: DigestMeans, { person, sites }: ReportPerson, month: string): Promise<boolean> {
  const report = await readReport(means, { month: parseMonth(month)!, site: null, scope: sites });
  const body = await bodyOf(report!, means.publicUrl);
  return means.database.transaction({ name: 'monthly-report' }, async (queries) => {
    const now = means.now();
    if (!(await claimReport(queries, person, month, now))) return false;
    const channels = await readUsableChannels(queries, [person]);
    for (const { id } of channels.filter(({ kind }) => kind === 'e-mail'))
      await addDelivery(
        queries,
        { notice: null, channel: id, message: `report:${month}`, reason: 'digest', body },
        now,
      );
    await announceNotices(queries);
    return true;
  });
}

async function bodyOf(report: ReportAnswer, publicUrl: string): Promise<MessageBody> {
  const { subject, text } = reportMail(report, `${publicUrl}reports/${report.month}`);
  const pdf = await printPdf(printedReport(report));
  return {
    subject,
    text,
    short: subject,
    data: { month: report.month },
    attachments: [
      { name: `report-${report.month}.pdf`, type: 'application/pdf', base64: pdf.toString('base64') },
    ],
  };
}
