import { foldStored, storedIn, type Stored } from './fold-stored.ts';
import { contextOfUnit, historyOf } from './fold.ts';
import { heading, say, thousands } from './report.ts';
import { rateOf } from './rounds.ts';
import { fillUnit, putBenchSite, type Store } from './store.ts';
import { dayRows, fullDocument } from './unit-record.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';

/** Days of 1 to 1,000 units inferred from storage, one after the other: does the time grow as their number does? */
const EVERY = 30;
const COUNTS = [1, 10, 100, 1_000] as const;
const MOST = COUNTS.at(-1)!;

export async function benchUnits(store: Store): Promise<void> {
  heading(`A day of many units inferred from storage: contacts on change, voltage each ${EVERY} s`);
  const document = fullDocument(MOST, EVERY);
  const points = await putBenchSite(store.database, MOST, document);
  const names = Array.from({ length: MOST }, (_, i) => `unit-${i + 1}`);
  let rows = 0;
  for (const name of names.toReversed())
    rows = await fillUnit(store.database, points, dayRows(1, EVERY), name);
  const history = historyOf(document);
  const stored = await storedIn(store);
  // once before, so that the first of the table doesn't pay for compiling
  await foldUnits(stored, history, names.slice(0, 10));
  say('             units      rows       seconds    ms a unit   × of one unit’s');
  let one = 0;
  for (const count of COUNTS) {
    const units = names.slice(0, count);
    const seconds = 1 / (await rateOf(1, () => foldUnits(stored, history, units)));
    if (count === 1) one = seconds;
    const each = (seconds * 1000) / count;
    const columns = [
      count,
      thousands(rows * count),
      seconds.toFixed(3),
      each.toFixed(1),
      (seconds / one).toFixed(1),
    ];
    say(`          ${columns.map((column) => String(column).padStart(10)).join(' ')}`);
  }
}

async function foldUnits(stored: Stored, history: SiteHistory, units: readonly string[]): Promise<void> {
  for (const unit of units) await foldStored(stored, contextOfUnit(history, 86_400, unit));
}
