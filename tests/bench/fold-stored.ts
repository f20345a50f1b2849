import { readDeviceIds } from '../../db/points.ts';
import type { Database } from '../../db/pool.ts';
import { readRecord, recordSources, type DeviceIds } from '../../db/record.ts';
import { RUN_LIMITS, runFold } from '../../server/follow/run-fold.ts';
import { BEGINNING, unfolded } from '../../shared/inference/driver.ts';
import type { FoldContext, RecordPage } from '../../shared/inference/fold.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import { watchedThrough } from '../../shared/inference/watch.ts';
import { foldAll, pageOf, readColumns, unitContext } from './fold.ts';
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
  const stored = await storedIn(store);
  const context = unitContext();
  const page = pageOf(context, unitRows(CYCLES), count);
  const figures = await interleaved(rounds, [
    {
      name: 'reading the same rows',
      run: () => rateOf(count, () => readAll(stored, context, readColumns)),
    },
    { name: 'fold alone', run: () => rateOf(count, () => foldAll(context, page)) },
    { name: 'read and fold', run: () => rateOf(count, () => foldStored(stored, context)) },
  ]);
  const reading = figures['reading the same rows']!;
  ratio('fold alone, of the same rows in memory', figures['fold alone']!, reading, 'rows/s');
  ratio('read and fold', figures['read and fold']!, reading, 'rows/s');
  note(`${count} rows, in pages of ${PAGE_ROWS}`);
}

/** The bench's unit in the database. */
export interface Stored {
  readonly database: Database;
  readonly ids: DeviceIds;
}

export const storedIn = async ({ database }: Store): Promise<Stored> => ({
  database,
  ids: await readDeviceIds(database, SITE),
});

/** Every row of a unit in the database, in pages. */
export async function readAll(
  { database, ids }: Stored,
  { history, sources }: FoldContext,
  take: (page: RecordPage, more: boolean) => unknown,
): Promise<void> {
  const places = recordSources(history, sources, ids);
  for (let after = BEGINNING, more = true; more;) {
    const stretch = await readRecord(database, places, after, PAGE_ROWS);
    await take(stretch.page, stretch.more);
    more = stretch.more;
    after = stretch.page.t[stretch.page.length - 1] ?? after;
  }
}

/** Infers a unit again from its stored record; answers how many events that gave. */
export async function foldStored(stored: Stored, context: FoldContext): Promise<number> {
  const now = watchedThrough(context.watch)!;
  const limits = { ...RUN_LIMITS, milliseconds: Infinity };
  let state = unfolded(unitFold);
  let events = 0;
  await readAll(stored, context, async (page, more) => {
    const run = await runFold(unitFold, context, state, { page, more }, now, limits);
    state = run.stored;
    events += run.settled.events.length + run.provisional.events.length;
  });
  return events;
}
