import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import {
  connectClient,
  putDocument,
  readSamples,
  startTestIngest,
  type TestIngest,
} from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

describe.skipIf(MOSQUITTO_IS_MISSING)('an external broker', () => {
  let store: FreshDatabase;
  let broker: Mosquitto;
  let ingest: TestIngest | null = null;
  beforeAll(async () => {
    store = await freshDatabase();
    await putDocument(store.database, 'small-school', SMALL_SCHOOL);
    broker = await startMosquitto({ autosave_on_changes: 'false', autosave_interval: '1800' });
  });
  afterEach(async () => {
    await ingest?.stop();
    ingest = null;
  });
  afterAll(async () => {
    await broker.stop();
    await store.drop();
  });

  const topic = 'holdoff/small-school/unit-1/control-voltage';
  const sample = (i: number) => JSON.stringify({ t: 1_772_000_000_000 + i, v: i % 30 });

  test('10,000 messages, more than may be in flight, are committed once each', async () => {
    ingest = await startTestIngest({ databaseUrl: store.url, brokerUrl: broker.url, highWater: 500 });
    await ingest.seen('caught-up');
    const gateway = await connectClient(broker.url);
    const started = performance.now();
    await Promise.all(
      Array.from({ length: 10_000 }, (_, i) => gateway.publishAsync(topic, sample(i), { qos: 1 })),
    );
    await gateway.endAsync();
    let committed = 0;
    for (const o of ingest.observations) if (o.kind === 'committed') committed += o.messages;
    await ingest.seen('committed', () => {
      let total = 0;
      for (const o of ingest!.observations) if (o.kind === 'committed') total += o.messages;
      return total >= 10_000;
    });
    console.log(
      `10,000 messages in ${Math.round(performance.now() - started)} ms, ${committed} while publishing`,
    );
    const samples = await readSamples(store.database);
    expect(samples).toHaveLength(10_000);
    expect(samples.every(({ quality }) => quality === 0)).toBe(true);
  });
});
