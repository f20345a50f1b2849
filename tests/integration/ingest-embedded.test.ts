import { afterAll, beforeAll, expect, test } from 'vitest';
import { parseInstant } from '../../shared/base/instant.ts';
import {
  connectClient,
  putDocument,
  readLives,
  readRejected,
  readSamples,
  startTestIngest,
  type TestIngest,
} from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

let store: FreshDatabase;
let ingest: TestIngest;
beforeAll(async () => {
  store = await freshDatabase();
  await putDocument(store.database, 'small-school', SMALL_SCHOOL);
  ingest = await startTestIngest({ databaseUrl: store.url });
});
afterAll(async () => {
  await ingest.stop();
  await store.drop();
});

test('a contact that closes is in the database before its publisher is answered', async () => {
  const client = await connectClient(ingest.url);
  const t = '2026-03-02T08:15:00.250Z';
  await client.publishAsync('holdoff/small-school/unit-1/cooling-call', JSON.stringify({ t, v: 1 }), {
    qos: 1,
  });
  expect(await readSamples(store.database)).toEqual([
    { key: 'small-school/unit-1/cooling-call', t: parseInstant(t), value: 1, quality: 0 },
  ]);
  expect(await readLives(store.database)).toEqual([
    { key: 'small-school/gateway/life', t: parseInstant('2026-03-02T08:15:00Z'), value: 1, quality: 0 },
  ]);
  expect(await readRejected(store.database)).toEqual([]);
  await client.endAsync();
});
