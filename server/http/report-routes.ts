import Type, { type Static } from 'typebox';
import { parseMonth } from '../../shared/report/month.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { ReportAnswer } from '../../shared/wire/report-answer.ts';
import { printedReport } from '../report/print-report.ts';
import { readReport } from '../report/read-report.ts';
import { REPORT_TABLES, reportCsv } from '../report/report-csv.ts';
import type { Service } from '../service.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Csv, Pdf, sendCsv, sendPdf } from './files.ts';
import { Slug } from './query.ts';
import { Refusal } from './refusal.ts';

/** A month's report: as an answer, on paper (PDF), as tables (CSV). One is added up at a time: it reads a month of events. */
const config = { action: 'see-sites' } as const;
const params = Type.Object({ month: Type.String({ maxLength: 7, examples: ['2026-10'] }) });
const querystring = Type.Object({ site: Type.Optional(Slug) });
type Query = Static<typeof querystring>;

export function reportRoutes(app: App, service: Service): void {
  let running: Promise<unknown> = Promise.resolve();
  const read = async (month: string, { site }: Query, scope: readonly string[] | null) => {
    const asked = { month: monthIn(month), site: site ?? null, scope };
    const answer = running.then(() => readReport(service, asked));
    running = answer.catch(() => null);
    const report = await answer;
    if (report === null) throw new Refusal('not-found', `There is no site "${site}".`);
    return report;
  };
  const refusals = { 400: Problem, 404: Problem };

  const one = { params, querystring, response: { 200: ReportAnswer, ...refusals } };
  app.get('/reports/:month', { schema: one, config }, (request) =>
    read(request.params.month, request.query, sitesOf(request)),
  );

  const paper = { params, querystring, response: { 200: Pdf, ...refusals } };
  app.get('/reports/:month/report.pdf', { schema: paper, config }, async (request, reply) => {
    const report = await read(request.params.month, request.query, sitesOf(request));
    return sendPdf(reply, fileName(report, 'report'), printedReport(report));
  });

  const table = {
    params: Type.Object({ ...params.properties, table: Type.Enum([...REPORT_TABLES]) }),
    querystring,
    response: { 200: Csv, ...refusals },
  };
  app.get('/reports/:month/:table.csv', { schema: table, config }, async (request, reply) => {
    const report = await read(request.params.month, request.query, sitesOf(request));
    const { table } = request.params;
    return sendCsv(reply, fileName(report, table), reportCsv(report, table));
  });
}

const fileName = ({ month, site }: ReportAnswer, end: string): string =>
  `${site ?? 'all-sites'}-${month}-${end}`;

function monthIn(text: string) {
  const month = parseMonth(text);
  if (month !== null) return month;
  throw new Refusal('bad-request', `"${text}" is no month.`, [
    { pointer: '/month', message: 'Give a month as 2026-10.' },
  ]);
}
