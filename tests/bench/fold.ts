import { unfolded } from '../../shared/inference/driver.ts';
import type { FoldContext, RecordPage } from '../../shared/inference/fold.ts';
import { contextOf } from '../../shared/inference/sources.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { watchedThrough, type WatchCoverage } from '../../shared/inference/watch.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';
import { RUN_LIMITS, runFold } from '../../server/follow/run-fold.ts';
import { interleaved, medianOf, rateOf } from './rounds.ts';
import { heading, note, ratio, thousands } from './report.ts';
import {
  BEGIN,
  dayRows,
  fullDocument,
  ROWS_A_CYCLE,
  SITE,
  siteDocument,
  UNIT,
  unitRows,
  type UnitRow,
} from './unit-record.ts';

/** The fold alone, against a loop that only reads the same columns. */
const CYCLES = 12_000;
const DAYS = 30;

export async function benchFold(rounds: number): Promise<void> {
  heading('Fold, rows in memory: 9 in 10 a voltage that is well, 1 in 10 a contact that moved');
  const context = unitContext();
  await benchRecord(rounds, context, pageOf(context, unitRows(CYCLES), CYCLES * ROWS_A_CYCLE));
  heading(`Fold, rows in memory: ${DAYS} days of a unit, contacts on change, voltage each 5 s`);
  const rows = [...dayRows(DAYS, 5)];
  const whole = unitContext(fullDocument(1, 5), DAYS * 86_400);
  await benchRecord(rounds, whole, pageOf(whole, rows, rows.length));
}

async function benchRecord(rounds: number, context: FoldContext, page: RecordPage): Promise<void> {
  let events = 0;
  const ownRates: number[] = [];
  const figures = await interleaved(rounds, [
    { name: 'reading the same columns', run: () => rateOf(page.length, () => readColumns(page)) },
    {
      name: 'fold',
      run: async () => {
        const before = process.cpuUsage();
        const rate = await rateOf(page.length, async () => (events = await foldAll(context, page)));
        const { user, system } = process.cpuUsage(before);
        ownRates.push((page.length * 1e6) / (user + system));
        return rate;
      },
    },
  ]);
  ratio('fold', figures['fold']!, figures['reading the same columns']!, 'rows/s');
  // what a busy machine leaves of a core is its own affair
  note(`${thousands(medianOf(ownRates))} rows a second of processor time`);
  note(`${page.length} rows gave ${events} events`);
}

export function historyOf(document: object): SiteHistory {
  const parsed = parseConfiguration(SITE, document);
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return [{ from: -Infinity, site: parsed.site }];
}

export function contextOfUnit(history: SiteHistory, seconds: number, unit: string): FoldContext {
  const watch: WatchCoverage = { spans: [{ from: BEGIN, to: BEGIN + seconds * 1_000_000 }] };
  return contextOf(history, { kind: 'unit', site: SITE, device: unit }, watch);
}

export const unitContext = (document: object = siteDocument(), seconds = CYCLES * 400): FoldContext =>
  contextOfUnit(historyOf(document), seconds, UNIT);

export function pageOf(context: FoldContext, rows: Iterable<UnitRow>, length: number): RecordPage {
  const keys = context.sources.map(({ key }) => key);
  const page = {
    length,
    t: new Float64Array(length),
    source: new Uint16Array(length),
    value: new Float64Array(length),
    quality: new Uint8Array(length),
  };
  let row = 0;
  for (const { signal, t, value } of rows) {
    page.t[row] = t;
    page.source[row] = keys.indexOf(`${UNIT}/${signal}`);
    page.value[row++] = value;
  }
  return page;
}

/** Everything that a reader must touch: each column of each row. */
export function readColumns({ length, t, source, value, quality }: RecordPage): number {
  let sum = 0;
  for (let i = 0; i < length; i++) sum += t[i]! + source[i]! + value[i]! + quality[i]!;
  return sum;
}

/** As the server folds: in pieces, with checkpoints on the way. */
export async function foldAll(context: FoldContext, page: RecordPage): Promise<number> {
  const limits = { ...RUN_LIMITS, milliseconds: Infinity };
  const now = watchedThrough(context.watch)!;
  const run = await runFold(unitFold, context, unfolded(unitFold), { page, more: false }, now, limits);
  return run.settled.events.length + run.provisional.events.length;
}
