import { mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { createServer, type AddressInfo } from 'node:net';
import { once } from 'node:events';
import { connect } from 'mqtt';
import { afterAll, afterEach, beforeAll, expect, test } from 'vitest';
import { startIngest, type Ingest } from '../../ingest/start.ts';
import type { Observation } from '../../ingest/observation.ts';
import { connectClient, putDocument, readSamples } from '../fixtures/ingest.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

let store: FreshDatabase;
let folder: string;
const observations: Observation[] = [];
beforeAll(async () => {
  store = await freshDatabase();
  await putDocument(store.database, 'small-school', SMALL_SCHOOL);
  folder = await mkdtemp(join(tmpdir(), 'holdoff-embedded-broker-'));
});
afterEach(async () => {
  for (const ingest of running.splice(0)) await ingest.stop();
});
afterAll(async () => {
  await rm(folder, { recursive: true, force: true });
  await store.drop();
});

const running: Ingest[] = [];

async function start({ port = 0, mostClients = 10 } = {}): Promise<Ingest> {
  const ingest = await startIngest({
    databaseUrl: store.url,
    broker: { kind: 'embedded', host: '127.0.0.1', port, folder: join(folder, 'broker'), mostClients },
    id: 'embedded',
    root: 'holdoff',
    markSeconds: 1,
    waveformDays: 90,
    sparkplug: { hostId: 'holdoff', reorderSeconds: 2 },
    observe: (observation) => observations.push(observation),
  });
  running.push(ingest);
  return ingest;
}

async function stop(ingest: Ingest): Promise<void> {
  running.splice(running.indexOf(ingest), 1);
  await ingest.stop();
}

const urlOf = ({ port }: Ingest) => `mqtt://127.0.0.1:${port}`;

test('what was retained is still there after a restart', async () => {
  const first = await start();
  const gateway = await connectClient(urlOf(first));
  await gateway.publishAsync('holdoff/small-school/unit-1/cooling-call', '1', { qos: 1, retain: true });
  await gateway.publishAsync('notes/yesterday', 'seen', { qos: 1, retain: true });
  await gateway.endAsync();
  await stop(first);
  const second = await start();
  const reader = await connectClient(urlOf(second));
  const heard: string[] = [];
  const both = new Promise<void>((done) =>
    reader.on('message', (topic, payload) => {
      heard.push(`${topic} ${String(payload)}`);
      if (heard.length === 2) done();
    }),
  );
  await reader.subscribeAsync('#', { qos: 1 });
  await both;
  expect(heard.sort()).toEqual(['holdoff/small-school/unit-1/cooling-call 1', 'notes/yesterday seen']);
  await reader.endAsync();
});

test('a session that lasts finds what came while it was away, also after a restart', async () => {
  const first = await start();
  const session = { clientId: 'reader', clean: false };
  const reader = await connectClient(urlOf(first), session);
  await reader.subscribeAsync('notes/#', { qos: 1 });
  await reader.endAsync();
  const gateway = await connectClient(urlOf(first));
  await gateway.publishAsync('notes/today', 'away', { qos: 1 });
  await gateway.endAsync();
  await stop(first);
  const second = await start();
  const client = connect(urlOf(second), { ...session, reconnectPeriod: 0 });
  const heard = await new Promise<string>((done) =>
    client.once('message', (topic, payload) => done(`${topic} ${String(payload)}`)),
  );
  expect(heard).toBe('notes/today away');
  await client.endAsync();
});

test('a packet beyond the bound ends its connection unanswered; the next one is taken', async () => {
  const ingest = await start();
  const topic = 'holdoff/small-school/unit-1/control-voltage';
  const careless = await connectClient(urlOf(ingest));
  careless.on('error', () => {});
  const closed = new Promise<void>((done) => careless.once('close', () => done()));
  let answered = false;
  careless.publish(topic, Buffer.alloc(3_000_000, 'x'), { qos: 1 }, (error) => (answered = !error));
  await closed;
  expect(answered).toBe(false);
  const gateway = await connectClient(urlOf(ingest));
  await gateway.publishAsync(topic, '{"t":0,"v":24}', { qos: 1 });
  expect((await readSamples(store.database)).map(({ value }) => value)).toContain(24);
  await gateway.endAsync();
});

test('a gateway that is gone before its answer disturbs nobody', async () => {
  const ingest = await start();
  const topic = 'holdoff/small-school/unit-1/compressor-output';
  for (let i = 0; i < 20; i++) {
    const hasty = await connectClient(urlOf(ingest));
    for (let k = 0; k < 50; k++)
      hasty.publish(topic, JSON.stringify({ t: i * 1_000 + k, v: 1 }), { qos: 1 }, () => {});
    await new Promise((written) => setImmediate(written));
    hasty.stream.destroy();
    hasty.end(true);
  }
  const gateway = await connectClient(urlOf(ingest));
  await gateway.publishAsync(topic, '{"t":99000,"v":0}', { qos: 1 });
  const stored = await readSamples(store.database);
  expect(stored.find(({ t }) => t === 99_000_000)).toMatchObject({ value: 0, quality: 0 });
  await gateway.endAsync();
});

test('more clients than may be are refused, and told in the log', async () => {
  const ingest = await start({ mostClients: 1 });
  const first = await connectClient(urlOf(ingest));
  const second = connect(urlOf(ingest), { reconnectPeriod: 0 });
  second.on('error', () => {});
  await new Promise<void>((done) => second.once('close', () => done()));
  expect(second.connected).toBe(false);
  expect(observations).toContainEqual(
    expect.objectContaining({ kind: 'client-refused', why: 'too many clients' }),
  );
  await first.endAsync();
});

test('a port that is taken is said to be', async () => {
  const other = createServer();
  other.listen(0, '127.0.0.1');
  await once(other, 'listening');
  const { port } = other.address() as AddressInfo;
  await expect(start({ port })).rejects.toThrow(`MQTT_PORT ${port} is taken`);
  other.close();
});
