import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { MqttClient } from 'mqtt';
import { statement, type Database } from '../../db/pool.ts';
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
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { MAPPED_SCHOOL } from '../fixtures/mapped-school.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const CALL = 'holdoff/small-school/unit-1/cooling-call';
const UNIT = 'holdoff/small-school/unit-1';

let store: FreshDatabase;
let database: Database;
let ingest: TestIngest;
let gateway: MqttClient;
beforeAll(async () => {
  store = await freshDatabase();
  database = store.database;
  await putDocument(database, 'small-school', SMALL_SCHOOL);
  ingest = await startTestIngest({ databaseUrl: store.url });
  gateway = await connectClient(ingest.url);
});
beforeEach(async () => {
  for (const table of ['samples', 'rejected', 'last_heard', 'work_items'])
    await database.run(statement('', `delete from ${table}`));
});
afterAll(async () => {
  await gateway.endAsync();
  await ingest.stop();
  await store.drop();
});

const publish = (topic: string, payload: unknown) =>
  gateway.publishAsync(topic, Buffer.isBuffer(payload) ? payload : JSON.stringify(payload), { qos: 1 });

const readHeard = () =>
  database.many<{ value: number; why: string }>(statement('', 'select value, why from last_heard'));

test('a contact that closes is in the database before its gateway is answered', async () => {
  const t = '2026-03-02T08:15:00.250Z';
  await publish(CALL, { t, v: 1 });
  expect(await readSamples(database)).toEqual([
    { key: 'small-school/unit-1/cooling-call', t: parseInstant(t), value: 1, quality: 0 },
  ]);
  expect(await readLives(database)).toEqual([
    { key: 'small-school/gateway/life', t: parseInstant('2026-03-02T08:15:00Z'), value: 1, quality: 0 },
  ]);
  expect(await readRejected(database)).toEqual([]);
});

test('when it is quiet a contact is committed and answered within milliseconds', async () => {
  const took: number[] = [];
  for (let i = 0; i < 60; i++) {
    const started = performance.now();
    await publish(CALL, { t: 1_772_000_000_000 + i, v: i % 2 });
    took.push(performance.now() - started);
  }
  took.sort((a, b) => a - b);
  console.log(
    `publish to PUBACK, committed: median ${took[30]!.toFixed(1)} ms, p95 ${took[56]!.toFixed(1)} ms`,
  );
  expect(took[30]!).toBeLessThan(100);
});

test('what can’t be taken is set aside and answered; its neighbours in the same batch are committed', async () => {
  const bad: [string, Buffer | object][] = [
    [CALL, Buffer.from('{"t":')],
    [CALL, Buffer.from([0xff, 0x00])],
    [CALL, Buffer.alloc(0)],
    [CALL, { t: '2026-03-02T08:15:00Z', v: 'perhaps' }],
    [CALL, { t: '2199-01-01T00:00:00Z', v: 1 }],
    ['holdoff/small-school/unit-9/cooling-call', { t: 0, v: 1 }],
    [CALL, Buffer.from('['.repeat(300_000))],
    [CALL, Buffer.alloc(1_048_576, 'x')],
  ];
  const all: Promise<unknown>[] = [];
  for (const [i, [topic, payload]] of bad.entries()) {
    all.push(publish(CALL, { t: i * 1_000, v: 1 }));
    all.push(publish(topic, payload));
  }
  await Promise.all(all);
  expect((await readSamples(database)).map(({ t }) => t / 1_000_000)).toEqual(bad.map((_, i) => i));
  expect((await readRejected(database)).map(({ reason }) => reason)).toEqual([
    'payload-not-json',
    'payload-not-utf8',
    'payload-empty',
    'value-not-known',
    'time-in-future',
    'point-not-known',
    'payload-not-json',
    'payload-too-large',
  ]);
});

test('after a change of configuration has answered, every later message is decoded under it', async () => {
  const withPoint = (there: boolean) => ({
    ...SMALL_SCHOOL,
    points: there ? [{ signal: 'outdoor-temperature' }] : [],
  });
  const topic = 'holdoff/small-school/site/outdoor-temperature';
  for (let i = 0; i < 20; i++) {
    await putDocument(database, 'small-school', withPoint(i % 2 === 0));
    await publish(topic, { t: Date.now(), v: i });
  }
  const taken = (await readSamples(database)).map(({ value }) => value);
  expect(taken).toEqual([0, 2, 4, 6, 8, 10, 12, 14, 16, 18]);
  const aside = (await readRejected(database)).map(
    ({ payload }) => JSON.parse(String(payload)) as { v: number },
  );
  expect(aside.map(({ v }) => v)).toEqual([1, 3, 5, 7, 9, 11, 13, 15, 17, 19]);
});

describe('a value without a time', () => {
  test('is timed at arrival, and later than the last of its point', async () => {
    await Promise.all(Array.from({ length: 200 }, (_, i) => publish(CALL, i % 2)));
    const samples = await readSamples(database);
    expect(samples.map(({ value }) => value)).toEqual(Array.from({ length: 200 }, (_, i) => i % 2));
    expect(Math.abs(samples.at(-1)!.t / 1_000 - Date.now())).toBeLessThan(60_000);
  });

  test('sent a second time may have waited: it is heard, not folded', async () => {
    await gateway.publishAsync(CALL, '1', { qos: 1, dup: true });
    expect(await readSamples(database)).toEqual([]);
    expect(await readHeard()).toEqual([{ value: 1, why: 'duplicate' }]);
  });

  test('is live though it asks to be retained', async () => {
    await gateway.publishAsync(CALL, '1', { qos: 1, retain: true });
    expect(await readSamples(database)).toHaveLength(1);
    expect(await readHeard()).toEqual([]);
  });
});

test('a gateway’s own topic is listened to from the moment that its document has been put', async () => {
  await putDocument(database, 'small-school', MAPPED_SCHOOL);
  const t = '2026-03-02T08:15:00.250Z';
  await publish('plant/7/ahu/2/di', { ts: t, inputs: { 3: { state: 'closed' }, 4: { state: 'perhaps' } } });
  expect(await readSamples(database)).toEqual([
    { key: 'small-school/unit-1/cooling-call', t: parseInstant(t), value: 1, quality: 0 },
  ]);
  expect(await readRejected(database)).toMatchObject([
    { reason: 'value-not-known', topic: 'plant/7/ahu/2/di' },
  ]);
  await putDocument(database, 'small-school', SMALL_SCHOOL);
});

test('QoS 0 and QoS 2 are taken too, each once', async () => {
  await gateway.publishAsync(CALL, JSON.stringify({ t: 1_000, v: 0 }), { qos: 0 });
  await gateway.publishAsync(CALL, JSON.stringify({ t: 2_000, v: 1 }), { qos: 2 });
  await publish(CALL, { t: 3_000, v: 0 });
  expect((await readSamples(database)).map(({ t }) => t)).toEqual([1_000_000, 2_000_000, 3_000_000]);
});

test('different values of one instant are one uncertain sample, flagged, whatever their order', async () => {
  await publish(CALL, { t: 1_000, v: 1 });
  await publish(CALL, { t: 1_000, v: 0 });
  await Promise.all([publish(CALL, { t: 2_000, v: 0 }), publish(CALL, { t: 2_000, v: 1 })]);
  const stored = (await readSamples(database)).map(({ value, quality }) => [value, quality]);
  expect(stored).toEqual([
    [0, 1 + 4],
    [0, 1 + 4],
  ]);
});

test('heartbeats and device messages show life; a last will doesn’t', async () => {
  await publish('holdoff/small-school/gateway/heartbeat', { t: '2026-03-02T08:00:00.250Z' });
  await publish('holdoff/small-school/gateway/offline', { t: '2026-03-02T09:00:00Z' });
  await publish(UNIT, {
    t: '2026-03-02T08:00:07.900Z',
    signals: { 'cooling-call': 1, 'control-voltage': 26.1 },
  });
  expect((await readLives(database)).map(({ t }) => t)).toEqual([
    parseInstant('2026-03-02T08:00:00.250Z'),
    parseInstant('2026-03-02T08:00:07Z'),
  ]);
});

test('what is said outside the root is none of our business; the broker’s own topics can’t be written', async () => {
  await gateway.publishAsync('elsewhere/unit-1', 'x', { qos: 1 });
  const intruder = await connectClient(ingest.url);
  const closed = new Promise<void>((done) => intruder.once('close', () => done()));
  intruder.on('error', () => {});
  intruder.publish('$SYS/anything', 'x', { qos: 1 }, () => {});
  await closed;
  expect(await readRejected(database)).toEqual([]);
});

test('a message that the database refuses is set aside alone', async () => {
  await database.run(
    statement(
      '',
      `create function refuse() returns trigger language plpgsql as $$
       begin raise exception 'no sixes here'; end $$;
       create trigger refuse before insert on samples for each row when (new.value = 666) execute function refuse()`,
    ),
  );
  await Promise.all([1, 2, 666, 4, 5].map((v, i) => publish(CALL, { t: i * 1_000, v })));
  expect((await readSamples(database)).map(({ value }) => value)).toEqual([1, 2, 4, 5]);
  expect(await readRejected(database)).toMatchObject([
    { reason: 'commit-refused', topic: CALL, payload: Buffer.from('{"t":2000,"v":666}') },
  ]);
  await database.run(statement('', 'drop trigger refuse on samples; drop function refuse'));
});

test('connections to the database that are cut lose nothing', async () => {
  const sending = Promise.all(
    Array.from({ length: 3_000 }, (_, i) => publish(CALL, { t: i * 1_000, v: i % 2 })),
  );
  for (let i = 0; i < 5; i++) {
    await ingest.seen('committed', ({ messages }) => messages > 0);
    await database.run(
      statement(
        '',
        "select pg_terminate_backend(pid) from pg_stat_activity where application_name like 'holdoff-ingest%'",
      ),
    );
  }
  await sending;
  expect(await readSamples(database)).toHaveLength(3_000);
});
