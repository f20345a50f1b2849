import { MOSQUITTO_IS_MISSING } from '../fixtures/mosquitto.ts';
import { benchFold } from './fold.ts';
import { benchStoredFold } from './fold-stored.ts';
import { benchLine } from './line.ts';
import { benchPageData } from './page-data.ts';
import { heading, say } from './report.ts';
import { openStore, type Store } from './store.ts';

/**
 * `npm run bench`: every figure is a ratio to a bare baseline that was measured in the same rounds, on the same machine,
 * with what else it had to do. Medians; the least and the most beside them. Takes about three minutes.
 */
const ROUNDS = 3;

async function withStore(work: (store: Store) => Promise<void>): Promise<void> {
  const store = await openStore();
  try {
    await work(store);
  } finally {
    await store.close();
  }
}

say(`Medians of ${ROUNDS} interleaved rounds; (least to most). "×" is the ratio to the baseline beside it.`);
await benchFold(ROUNDS);
await withStore((store) => benchStoredFold(store, ROUNDS));
await withStore((store) => benchPageData(store, ROUNDS));
if (MOSQUITTO_IS_MISSING) heading('The line: left out, for there is no mosquitto here');
else await withStore((store) => benchLine(store, ROUNDS));
