import type { Queries } from '../../db/pool.ts';
import { readSiteCounts } from '../../db/read-report.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { totalsOf, worstUnits } from '../../shared/report/fleet-report.ts';
import { monthBefore, monthText, stretchOfMonth, type Month } from '../../shared/report/month.ts';
import { siteReport, type SiteReport } from '../../shared/report/site-report.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import type { ReportAnswer } from '../../shared/wire/report-answer.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';

/** A month's report, added up when somebody asks: of one site or of all in scope, beside the month before. */
const REPORTED_AT_ONCE = 1000;

export interface ReportAsk {
  readonly month: Month;
  /** null: all in scope */
  readonly site: string | null;
  /** null: every site */
  readonly scope: readonly string[] | null;
}

type Reading = Pick<Service, 'database' | 'setups' | 'now'>;

/** null: there is no such site. */
export function readReport(service: Reading, ask: ReportAsk): Promise<ReportAnswer | null> {
  return inSnapshot(service.database, async (queries) => {
    const only = ask.site === null ? ask.scope : [ask.site];
    const setups = await service.setups.readMany(queries, '', REPORTED_AT_ONCE + 1, only);
    if (ask.site !== null && setups.length === 0) return null;
    const now = service.now();
    const histories = setups.slice(0, REPORTED_AT_ONCE).map(({ history }) => history);
    const sitesOf = (month: Month): Site[] =>
      histories.flatMap((history) => {
        const zone = siteAt(history, now)?.timeZone ?? 'UTC';
        return siteAt(history, Math.min(now, stretchOfMonth(month, zone).to - 1)) ?? [];
      });
    const reports = await reportsOf(queries, sitesOf(ask.month), ask.month, now);
    const earlier = monthBefore(ask.month);
    const before = await reportsOf(queries, sitesOf(earlier), earlier, now);
    return answerOf({ ask, reports, before, now, whole: setups.length <= REPORTED_AT_ONCE });
  });
}

async function reportsOf(
  queries: Queries,
  sites: readonly Site[],
  month: Month,
  now: number,
): Promise<SiteReport[]> {
  const stretches = sites.map(({ id, timeZone }) => {
    const { from, to } = stretchOfMonth(month, timeZone);
    return { site: id, from, to: Math.max(from, Math.min(to, now)) };
  });
  const counts = await readSiteCounts(queries, stretches);
  return sites.map((site, i) => siteReport(site, counts[i]!));
}

interface Read {
  readonly ask: ReportAsk;
  readonly reports: readonly SiteReport[];
  readonly before: readonly SiteReport[];
  readonly now: number;
  readonly whole: boolean;
}

function answerOf({ ask, reports, before, now, whole }: Read): ReportAnswer {
  const one = ask.site === null ? null : (reports[0] ?? null);
  const seconds = reports.reduce((sum, report) => sum + report.seconds, 0);
  const known = reports.reduce((sum, report) => sum + report.knownSeconds, 0);
  const isOver = reports.every(({ timeZone }) => stretchOfMonth(ask.month, timeZone).to <= now);
  const stretch = one && stretchOfMonth(ask.month, one.timeZone);
  return {
    month: monthText(ask.month),
    site: ask.site,
    siteName: one?.name ?? null,
    isOver,
    whole,
    totals: totalsOf(reports),
    before: {
      month: monthText(monthBefore(ask.month)),
      totals: before.some(({ knownSeconds }) => knownSeconds > 0) ? totalsOf(before) : null,
    },
    known: seconds > 0 ? known / seconds : null,
    worst: worstUnits(reports),
    sites: ask.site === null ? siteLines(reports) : [],
    spaces: [...(one?.spaces ?? [])],
    units: [...(one?.units ?? [])],
    from: stretch && formatInstant(stretch.from),
    to: stretch && formatInstant(stretch.to),
    timeZone: one?.timeZone ?? null,
    serverTime: formatInstant(now),
  };
}

/** The least available first; of which it can't be told, last. */
const siteLines = (reports: readonly SiteReport[]): ReportAnswer['sites'] =>
  reports
    .map((report) => ({ id: report.id, name: report.name, totals: totalsOf([report]) }))
    .toSorted(
      (a, b) =>
        (a.totals.availability ?? 2) - (b.totals.availability ?? 2) ||
        b.totals.hardLockouts.all - a.totals.hardLockouts.all ||
        (a.name < b.name ? -1 : 1),
    );
