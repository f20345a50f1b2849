import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { MqttClient } from 'mqtt';
import { statement, type Database } from '../../db/pool.ts';
import {
  connectClient,
  putDocument,
  readSamples,
  startTestIngest,
  type TestIngest,
  type TestIngestOptions,
} from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { startOldBroker } from '../fixtures/old-broker.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { MAPPED_SCHOOL } from '../fixtures/mapped-school.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

const CALL = 'holdoff/small-school/unit-1/cooling-call';
const VOLTAGE = 'holdoff/small-school/unit-1/control-voltage';

let store: FreshDatabase;
let database: Database;
const running: TestIngest[] = [];
beforeAll(async () => {
  store = await freshDatabase();
  database = store.database;
  await putDocument(database, 'small-school', SMALL_SCHOOL);
});
beforeEach(async () => {
  for (const table of ['samples', 'last_heard']) await database.run(statement('', `delete from ${table}`));
});
afterEach(async () => {
  for (const ingest of running.splice(0)) await ingest.stop();
});
afterAll(() => store.drop());

async function start(options: Omit<TestIngestOptions, 'databaseUrl'>): Promise<TestIngest> {
  const ingest = await startTestIngest({ databaseUrl: store.url, ...options });
  running.push(ingest);
  return ingest;
}

async function stop(ingest: TestIngest): Promise<void> {
  running.splice(running.indexOf(ingest), 1);
  await ingest.stop();
}

const publish = (client: MqttClient, topic: string, payload: unknown, retain = false) =>
  client.publishAsync(topic, JSON.stringify(payload), { qos: 1, retain });

const readHeard = () =>
  database.many<{ signal: string; value: number; why: string }>(
    statement(
      '',
      'select p.signal, h.value, h.why from last_heard h join points p on p.id = h.point_id order by 1',
    ),
  );

const messagesIn = (ingest: TestIngest): number =>
  ingest.observations.reduce((sum, one) => sum + (one.kind === 'committed' ? one.messages : 0), 0);

describe.skipIf(MOSQUITTO_IS_MISSING)('a broker that speaks MQTT 5', () => {
  let broker: Mosquitto;
  let gateway: MqttClient;
  beforeEach(async () => {
    // the broker saves at every change, as it ships, only where a test restarts it
    broker = await startMosquitto({ autosave_on_changes: 'false', autosave_interval: '1800' });
    gateway = await connectClient(broker.url, { reconnectPeriod: 100 });
  });
  afterEach(async () => {
    for (const ingest of running.splice(0)) await ingest.stop();
    await gateway.endAsync(true);
    await broker.stop();
  });

  test('10,000 messages, twenty times what may be in flight, are committed once each', async () => {
    const ingest = await start({ brokerUrl: broker.url, highWater: 500 });
    expect((await ingest.seen('broker-connected')).protocol).toBe(5);
    await ingest.seen('caught-up');
    await Promise.all(
      Array.from({ length: 10_000 }, (_, i) =>
        publish(gateway, VOLTAGE, { t: 1_772_000_000_000 + i, v: i % 30 }),
      ),
    );
    await ingest.seen('committed', () => messagesIn(ingest) >= 10_000);
    const samples = await readSamples(database);
    expect(samples).toHaveLength(10_000);
    expect(samples.every(({ quality }) => quality === 0)).toBe(true);
  });

  test('what comes steadily is gathered; what comes alone is committed at once, by itself', async () => {
    const ingest = await start({ brokerUrl: broker.url });
    await ingest.seen('caught-up');
    const commits = () => ingest.observations.filter((one) => one.kind === 'committed' && one.messages > 0);
    for (let i = 0; i < 5; i++) {
      await publish(gateway, VOLTAGE, { t: 1_771_000_000_000 + i, v: 24 });
      await ingest.seen('committed', () => messagesIn(ingest) > i);
    }
    expect(commits()).toHaveLength(5);
    const began = performance.now();
    const sent: Promise<unknown>[] = [];
    for (let i = 0; i < 2_000; i++) {
      sent.push(publish(gateway, VOLTAGE, { t: 1_772_000_000_000 + i, v: i % 30 }));
      if (i % 5 === 4) await new Promise((later) => setTimeout(later, 1));
    }
    await Promise.all(sent);
    await ingest.seen('committed', () => messagesIn(ingest) >= 2_005);
    const took = performance.now() - began;
    const gathered = commits().length - 5;
    console.log(`2,000 messages one after another: ${gathered} transactions in ${Math.round(took)} ms`);
    expect(gathered).toBeLessThan(10 + took / 25); // each is held back for up to 50 ms
  });

  test('what comes while ingest is away waits for it; a value without a time among it is heard, not folded', async () => {
    const first = await start({ brokerUrl: broker.url });
    await first.seen('caught-up');
    await stop(first);
    await publish(gateway, CALL, 1);
    await publish(gateway, VOLTAGE, { t: 1_000, v: 24 });
    const second = await start({ brokerUrl: broker.url });
    expect((await second.seen('broker-connected')).sessionPresent).toBe(true);
    await second.seen('caught-up');
    await publish(gateway, CALL, 0); // live again
    await second.seen('committed', () => messagesIn(second) >= 3);
    expect((await readSamples(database)).map(({ key, value }) => [key, value])).toEqual([
      ['small-school/unit-1/control-voltage', 24],
      ['small-school/unit-1/cooling-call', 0],
    ]);
    expect(await readHeard()).toEqual([{ signal: 'cooling-call', value: 1, why: 'before-marker' }]);
  });

  test('what the broker retained is heard; with a time of its own it is an ordinary sample', async () => {
    await publish(gateway, CALL, 1, true);
    await publish(gateway, VOLTAGE, { t: 1_000, v: 24 }, true);
    const ingest = await start({ brokerUrl: broker.url, id: 'newcomer' });
    await ingest.seen('committed', () => messagesIn(ingest) >= 2);
    expect((await readSamples(database)).map(({ key, t }) => [key, t])).toEqual([
      ['small-school/unit-1/control-voltage', 1_000_000],
    ]);
    expect(await readHeard()).toEqual([{ signal: 'cooling-call', value: 1, why: 'retained' }]);
  });

  test('a topic that the configuration comes to name is listened to; what it then sends while ingest is away, waits', async () => {
    const first = await start({ brokerUrl: broker.url, id: 'mapped' });
    await first.seen('caught-up');
    await putDocument(database, 'small-school', MAPPED_SCHOOL);
    await first.seen('listening-to', ({ filters }) => filters === 3);
    const send = (ts: number) =>
      publish(gateway, 'plant/7/ahu/2/di', { ts, inputs: { 3: { state: 1 }, 4: { state: 0 } } });
    await send(1_000);
    await first.seen('committed', () => messagesIn(first) >= 1);
    await stop(first);
    await send(2_000);
    const second = await start({ brokerUrl: broker.url, id: 'mapped' });
    await second.seen('committed', () => messagesIn(second) >= 1);
    expect((await readSamples(database)).map(({ key, t, value }) => [key, t, value])).toEqual([
      ['small-school/unit-1/compressor-output', 1_000_000, 0],
      ['small-school/unit-1/compressor-output', 2_000_000, 0],
      ['small-school/unit-1/cooling-call', 1_000_000, 1],
      ['small-school/unit-1/cooling-call', 2_000_000, 1],
    ]);
    await putDocument(database, 'small-school', SMALL_SCHOOL);
  });

  test('an orderly stop leaves nothing to be sent again', async () => {
    const first = await start({ brokerUrl: broker.url });
    await first.seen('caught-up');
    await Promise.all(Array.from({ length: 1_000 }, (_, i) => publish(gateway, VOLTAGE, { t: i, v: 24 })));
    await first.seen('committed', () => messagesIn(first) >= 1_000);
    await stop(first);
    const second = await start({ brokerUrl: broker.url });
    await second.seen('caught-up');
    expect(messagesIn(second)).toBe(0);
  });
});

test.skipIf(MOSQUITTO_IS_MISSING)('a broker that goes and comes back is waited for', async () => {
  const broker = await startMosquitto();
  const ingest = await start({ brokerUrl: broker.url, id: 'patient' });
  await ingest.seen('caught-up');
  await broker.kill();
  await ingest.seen('broker-lost');
  await broker.restart();
  const connections = () => ingest.observations.filter(({ kind }) => kind === 'caught-up').length;
  await ingest.seen('caught-up', () => connections() === 2);
  const gateway = await connectClient(broker.url);
  await publish(gateway, CALL, 1);
  await ingest.seen('committed', () => messagesIn(ingest) === 1);
  expect(await readSamples(database)).toHaveLength(1);
  await gateway.endAsync();
  await stop(ingest);
  await broker.stop();
});

test('a broker that speaks only MQTT 3.1.1 is spoken to in it', async () => {
  const broker = await startOldBroker();
  const ingest = await start({ brokerUrl: broker.url, id: 'humble' });
  await ingest.seen('broker-connected', ({ protocol }) => protocol === 4);
  await ingest.seen('caught-up');
  const gateway = await connectClient(broker.url);
  await Promise.all(Array.from({ length: 500 }, (_, i) => publish(gateway, CALL, { t: i, v: i % 2 })));
  await ingest.seen('committed', () => messagesIn(ingest) >= 500);
  expect(await readSamples(database)).toHaveLength(500);
  await gateway.endAsync();
  await stop(ingest);
  await broker.stop();
});
