import { foldStored, readAll, storedIn } from './fold-stored.ts';
import { readColumns, unitContext } from './fold.ts';
import { heading, note, ratio } from './report.ts';
import { interleaved, rateOf } from './rounds.ts';
import { fillUnit, putBenchSite, type Store } from './store.ts';
import { dayRows, fullDocument } from './unit-record.ts';

/** A unit's year, contacts on change and control voltage each 5 s, inferred again from storage. */
const DAYS = 365;
const EVERY = 5;

export async function benchUnitYear(store: Store): Promise<void> {
  heading(`A unit-year inferred again from storage: contacts on change, voltage each ${EVERY} s`);
  const document = fullDocument(1, EVERY);
  const points = await putBenchSite(store.database, 1, document);
  const count = await fillUnit(store.database, points, dayRows(DAYS, EVERY));
  const stored = await storedIn(store);
  const context = unitContext(document, DAYS * 86_400);
  let events = 0;
  const figures = await interleaved(1, [
    {
      name: 'reading the same rows',
      run: () => rateOf(count, () => readAll(stored, context, readColumns)),
    },
    {
      name: 'read and fold',
      run: () => rateOf(count, async () => (events = await foldStored(stored, context))),
    },
  ]);
  const folded = figures['read and fold']!;
  ratio('read and fold', folded, figures['reading the same rows']!, 'rows/s');
  note(`${count} rows gave ${events} events; the year took ${(count / folded.median).toFixed(1)} s`);
}
