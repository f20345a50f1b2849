import { statement, type Database } from '../../db/pool.ts';
import type { RunningServer } from '../../server/start-server.ts';
import { formatInstant, inSeconds, seconds } from '../../shared/base/instant.ts';
import { askServer, serving } from './asked.ts';
import { heading, note, ratio } from './report.ts';
import { interleaved, rateOf } from './rounds.ts';
import { fillUnit, putBenchSite, type Store } from './store.ts';
import { BEGIN, SITE, UNIT, unitRows } from './unit-record.ts';

/** What a unit's page asks for when it opens a week, over HTTP, against the bare SQL that reads the same pixels. */
const DAYS = 7;
const FROM = BEGIN;
const TO = BEGIN + DAYS * seconds(86_400);
const WIDTH = 1200;
const TIMES = 20;

export async function benchPageData(store: Store, rounds: number): Promise<void> {
  heading(`Page data: a unit's ${DAYS} days, ${WIDTH} pixels wide`);
  const points = await putBenchSite(store.database, 1);
  const count = await fillUnit(store.database, points, unitRows(inSeconds(TO - FROM) / 400));
  await serving(store, async (server) => {
    await inferenceDone(server);
    let bytes = 0;
    const figures = await interleaved(rounds, [
      { name: 'bare SQL', run: () => rateOf(TIMES, () => times(() => bareSeries(store.database, points))) },
      {
        name: 'series over HTTP',
        run: () => rateOf(TIMES, () => times(async () => (bytes = await fetchSeries(server)))),
      },
    ]);
    ratio('series over HTTP', figures['series over HTTP']!, figures['bare SQL']!, 'a second');
    note(`${count} rows drawn as ${bytes} bytes of JSON, one request at a time`);
  });
}

async function times(work: () => Promise<unknown>): Promise<void> {
  for (let i = 0; i < TIMES; i++) await work();
}

const fetchSeries = async (server: RunningServer): Promise<number> => {
  const answer = await askServer(server, 'series', {
    site: SITE,
    device: UNIT,
    signals: 'cooling-call,compressor-output,control-voltage',
    from: formatInstant(FROM),
    to: formatInstant(TO),
    width: String(WIDTH),
  });
  return Buffer.byteLength(answer);
};

const PIXELS = statement(
  'bare-pixels',
  `select min(t), min(value), max(value), avg(value) from samples
   where point_id = $1 and t >= $2 and t < $3
   group by floor(extract(epoch from t - $2) / $4) order by 1`,
);
const STEPS = statement(
  'bare-steps',
  'select point_id, t, value from samples where point_id = any($1) and t >= $2 and t < $3 order by point_id, t',
);

async function bareSeries(database: Database, points: ReadonlyMap<string, number>): Promise<void> {
  const [from, to] = [formatInstant(FROM), formatInstant(TO)];
  const id = (signal: string) => points.get(`${UNIT}/${signal}`)!;
  await database.many(PIXELS, [id('control-voltage'), from, to, inSeconds(TO - FROM) / WIDTH]);
  await database.many(STEPS, [[id('cooling-call'), id('compressor-output')], from, to]);
}

/** Everything is inferred before the clock starts; a bound on the wait, in looks. */
async function inferenceDone(server: RunningServer): Promise<void> {
  for (let look = 0; look < 600; look++) {
    const { pending } = JSON.parse(await askServer(server, 'inference')) as { pending: number };
    if (pending === 0) return;
    await new Promise((later) => setTimeout(later, 100));
  }
  throw new Error('inference is still at work after a minute');
}
