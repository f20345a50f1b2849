import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { readWatch, writeWatchMark } from '../../db/watch-marks.ts';
import { connectClient, putDocument, startTestIngest, wallClock } from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto } from '../fixtures/mosquitto.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
  await putDocument(store.database, 'small-school', SMALL_SCHOOL);
});
afterAll(() => store.drop());

const marks = (ingest: string) =>
  store.database.many<{ from: number; to: number }>(
    statement('', 'select from_t as "from", to_t as "to" from watch_marks where ingest = $1 order by 1'),
    [ingest],
  );

test.skipIf(MOSQUITTO_IS_MISSING).each(['embedded', 'external'] as const)(
  'the time in which ingest listened is marked, up to its orderly stop (%s broker)',
  async (kind) => {
    const broker = kind === 'external' ? await startMosquitto() : null;
    const start = () =>
      startTestIngest({
        databaseUrl: store.url,
        id: kind,
        markSeconds: 0.1,
        ...(broker ? { brokerUrl: broker.url } : {}),
      });
    const before = wallClock();
    const first = await start();
    await first.seen('committed');
    const count = first.observations.length;
    await first.seen('committed', (one) => first.observations.indexOf(one) > count);
    const stopping = wallClock();
    await first.stop();
    const [mark, ...others] = await marks(kind);
    expect(others).toEqual([]);
    expect(mark!.from).toBeGreaterThanOrEqual(before);
    expect(mark!.to).toBeGreaterThanOrEqual(stopping);
    expect(mark!.to).toBeLessThanOrEqual(wallClock());

    const second = await start(); // not listening in between: a stretch of its own
    await second.seen('committed');
    await second.stop();
    const stretches = await marks(kind);
    expect(stretches).toHaveLength(2);
    expect(stretches[1]!.from).toBeGreaterThan(mark!.to);
    await broker?.stop();
  },
);

test('marks that adjoin or overlap, of whatever ingest, are one watched stretch', async () => {
  await store.database.run(statement('', 'delete from watch_marks'));
  const write = (ingest: string, from: number, to: number) =>
    store.database.transaction({ name: 'mark' }, (queries) => writeWatchMark(queries, { ingest, from, to }));
  await write('a', 0, 10);
  await write('a', 10, 20);
  await write('a', 0, 20);
  await write('b', 15, 30);
  await write('a', 40, 50);
  expect(await marks('a')).toEqual([
    { from: 0, to: 20 },
    { from: 40, to: 50 },
  ]);
  expect((await readWatch(store.database, -Infinity)).spans).toEqual([
    { from: 0, to: 30 },
    { from: 40, to: 50 },
  ]);
  expect((await readWatch(store.database, 35)).spans).toEqual([{ from: 40, to: 50 }]);
});

test('how late messages came is kept beside them', async () => {
  const ingest = await startTestIngest({ databaseUrl: store.url, id: 'late', markSeconds: 0.1 });
  const gateway = await connectClient(ingest.url);
  const topic = 'holdoff/small-school/unit-1/cooling-call';
  for (const lateMs of [50_000, 600_000, 70_000])
    await gateway.publishAsync(topic, JSON.stringify({ t: Date.now() - lateMs, v: 1 }), { qos: 1 });
  await gateway.endAsync();
  await ingest.stop();
  const rows = await store.database.many<{ gateway: string; count: number; least: number }>(
    statement('', 'select gateway, count, least_ms as least from arrivals'),
  );
  expect(rows.reduce((sum, { count }) => sum + count, 0)).toBe(3);
  expect(Math.min(...rows.map(({ least }) => least))).toBeGreaterThanOrEqual(50_000);
  expect(Math.min(...rows.map(({ least }) => least))).toBeLessThan(70_000);
});
