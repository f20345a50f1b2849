import { readDeviceIds } from '../../db/points.ts';
import type { Database } from '../../db/pool.ts';
import { readRecord, recordSources } from '../../db/record.ts';
import { RUN_LIMITS, runFold } from '../../server/follow/run-fold.ts';
import { BEGINNING, unfolded } from '../../shared/inference/driver.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { watchedThrough } from '../../shared/inference/watch.ts';
import { readColumns, unitContext } from './fold.ts';
import { heading, note, ratio } from './report.ts';
import { interleaved, rateOf } from './rounds.ts';
import { fillUnit, putBenchSite, type Store } from './store.ts';
import { SITE, unitRows } from './unit-record.ts';

/** The fold of a record in the database, against a loop that only reads the same rows from there. */
const CYCLES = 8_000;
const PAGE_ROWS = 100_000;

export async function benchStoredFold(store: Store, rounds: number): Promise<void> {
  heading('Fold, rows in the database');
  const points = await putBenchSite(store.database, 1);
  const count = await fillUnit(store.database, points, unitRows(CYCLES));
  const figures = await interleaved(rounds, [
    { name: 'reading the same rows', run: () => rateOf(count, () => readAll(store.database, readColumns)) },
    { name: 'read and fold', run: () => rateOf(count, () => foldStored(store.database)) },
  ]);
  ratio('read and fold', figures['read and fold']!, figures['reading the same rows']!, 'rows/s');
  note(`${count} rows, in pages of ${PAGE_ROWS}`);
}

async function readAll(
  database: Database,
  take: (page: RecordPage, more: boolean) => unknown,
): Promise<void> {
  const { history, sources } = unitContext();
  const places = recordSources(history, sources, await readDeviceIds(database, SITE));
  for (let after = BEGINNING, more = true; more;) {
    const stretch = await readRecord(database, places, after, PAGE_ROWS);
    await take(stretch.page, stretch.more);
    more = stretch.more;
    after = stretch.page.t[stretch.page.length - 1] ?? after;
  }
}

async function foldStored(database: Database): Promise<void> {
  const context = unitContext();
  const now = watchedThrough(context.watch)!;
  const limits = { ...RUN_LIMITS, milliseconds: Infinity };
  let stored = unfolded(unitFold);
  await readAll(database, async (page, more) => {
    stored = (await runFold(unitFold, context, stored, { page, more }, now, limits)).stored;
  });
}
