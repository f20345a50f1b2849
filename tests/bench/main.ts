import { MOSQUITTO_IS_MISSING } from '../fixtures/mosquitto.ts';
import { benchDisk } from './disk.ts';
import { benchFold } from './fold.ts';
import { benchStoredFold } from './fold-stored.ts';
import { benchLine } from './line.ts';
import { benchLatency } from './latency.ts';
import { partsOf, type Part } from './options.ts';
import { benchPageData } from './page-data.ts';
import { heading, say } from './report.ts';
import { benchReview } from './review.ts';
import { benchShare } from './share.ts';
import { openStore, type Store } from './store.ts';
import { benchUnits } from './units.ts';
import { benchVoltageYear } from './voltage.ts';
import { benchUnitYear } from './year.ts';

/**
 * `npm run bench`: every figure is a ratio to a bare baseline that was measured in the same rounds, on the same machine,
 * with what else it had to do. Medians; the least and the most beside them. Takes some five minutes; what takes longer is asked
 * for by name (options.ts). On the embedded PostgreSQL, or on that of BENCH_DATABASE_URL.
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

async function withMosquitto(bench: (store: Store, rounds: number) => Promise<void>): Promise<void> {
  if (MOSQUITTO_IS_MISSING) heading('The line: left out, for there is no mosquitto here');
  else await withStore((store) => bench(store, ROUNDS));
}

const BENCHES: Readonly<Record<Part, () => Promise<void>>> = {
  fold: () => benchFold(ROUNDS),
  stored: () => withStore((store) => benchStoredFold(store, ROUNDS)),
  page: () => withStore((store) => benchPageData(store, ROUNDS)),
  line: () => withMosquitto(benchLine),
  share: () => withMosquitto(benchShare),
  latency: benchLatency,
  year: () => withStore(benchUnitYear),
  review: () => withStore((store) => benchReview(store, ROUNDS)),
  units: () => withStore(benchUnits),
  disk: () => benchDisk(withStore),
  voltage: () => withStore((store) => benchVoltageYear(store, ROUNDS)),
};

const parts = partsOf(process.argv.slice(2));
if (typeof parts === 'string') say(parts);
else {
  say(
    `Medians of ${ROUNDS} interleaved rounds; (least to most). "×" is the ratio to the baseline beside it.`,
  );
  for (const part of parts) await BENCHES[part]();
}
