import { once } from 'node:events';
import { createServer, type AddressInfo } from 'node:net';
import { Aedes, type Client } from 'aedes';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { MqttClient } from 'mqtt';
import { statement, type Database } from '../../db/pool.ts';
import { startEdge, type TestEdge } from '../fixtures/edge.ts';
import {
  connectClient,
  putDocument,
  readLives,
  readRejected,
  readSamples,
  startTestIngest,
  type TestIngest,
} from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { encoded, type UMetric } from '../fixtures/sparkplug.ts';
import { until } from '../fixtures/until.ts';

/** Edge nodes by the protocol's own client library, through both brokers, into the database. */
const [UNIT] = SMALL_SCHOOL.units;
const SCHOOL = {
  ...SMALL_SCHOOL,
  units: [
    {
      ...UNIT!,
      points: [
        { signal: 'cooling-call', sparkplug: 'school/edge-1/unit-1/Inputs/call' },
        { signal: 'control-voltage', sparkplug: 'school/edge-1/unit-1/volts' },
        { signal: 'fan-call', sparkplug: 'school/edge-1//Fan' },
      ],
    },
  ],
};
const STATE = 'spBv1.0/STATE/holdoff';
const call = (value: boolean | null, more: Partial<UMetric> = {}): UMetric =>
  ({ name: 'Inputs/call', type: 'Boolean', value, ...more }) as UMetric;
const volts = (value: number): UMetric => ({ name: 'volts', type: 'Float', value });
const BIRTHS = {
  node: [{ name: 'Fan', type: 'Boolean', value: true }] as UMetric[],
  devices: {
    'unit-1': [call(false), volts(26.5), { name: 'Firmware', type: 'String', value: '1' }] as UMetric[],
  },
};

let store: FreshDatabase;
let database: Database;
const running: { stop(): unknown }[] = [];
beforeAll(async () => {
  store = await freshDatabase();
  database = store.database;
  await putDocument(database, 'small-school', SCHOOL);
});
beforeEach(async () => {
  for (const table of ['samples', 'rejected', 'gateway_lives'])
    await database.run(statement('', `delete from ${table}`));
});
afterEach(async () => {
  for (const one of running.splice(0).reverse()) await one.stop();
});
afterAll(() => store.drop());

const kept = <T extends { stop(): unknown }>(one: T): T => {
  running.push(one);
  return one;
};
const start = async (brokerUrl?: string, id = 'sparkplug'): Promise<TestIngest> =>
  kept(await startTestIngest({ databaseUrl: store.url, ...(brokerUrl ? { brokerUrl } : {}), id }));

/** Values of one signal in order, a bad one as "?", without repeats. */
async function valuesOf(signal: string): Promise<string> {
  const samples = (await readSamples(database)).filter(({ key }) => key.endsWith(`/${signal}`));
  const words = samples.map(({ value, quality }) => (quality === 2 ? '?' : String(value)));
  return words.filter((word, i) => word !== words[i - 1]).join(' ');
}
const shows = (signal: string, values: string) =>
  until(
    () => valuesOf(signal),
    (now) => now === values,
    20,
  );

const brokers: [name: string, start: (() => Promise<Mosquitto>) | null][] = [
  ['the embedded broker', null],
  ...(MOSQUITTO_IS_MISSING
    ? []
    : [
        ['Mosquitto', () => startMosquitto({ autosave_on_changes: 'false', autosave_interval: '1800' })] as [
          string,
          () => Promise<Mosquitto>,
        ],
      ]),
];

describe.each(brokers)('through %s', (_, startBroker) => {
  let ingest: TestIngest;
  let edge: TestEdge;
  let brokerUrl: string | undefined;
  let broker: Mosquitto | null;
  beforeEach(async () => {
    broker = startBroker ? kept(await startBroker()) : null;
    brokerUrl = broker?.url;
    ingest = await start(brokerUrl);
    await ingest.seen('host-state', ({ online }) => online);
    edge = kept(startEdge(ingest.url, BIRTHS));
    await edge.ready;
    await shows('control-voltage', '26.5');
  });

  test('births and data become samples of the points that name them, and show that the gateway lives', async () => {
    edge.data([call(true)], 'unit-1');
    edge.data([{ name: 'Fan', type: 'Boolean', value: false }]);
    await shows('cooling-call', '0 1');
    await shows('fan-call', '1 0');
    expect((await readLives(database)).length).toBeGreaterThan(0);
    expect(await readRejected(database)).toEqual([]);
  });

  test('tck-id-operational-behavior-edge-node-termination-host-action-ndeath-node-tags-stale: a lost edge node’s points aren’t known until it is born again', async () => {
    edge.data([call(true)], 'unit-1');
    await shows('cooling-call', '0 1');
    edge.cut();
    // tck-id-operational-behavior-edge-node-termination-host-action-ndeath-devices-tags-stale
    await shows('cooling-call', '0 1 ? 0');
    await shows('fan-call', '1 ? 1');
  });

  test('tck-id-operational-behavior-edge-node-termination-host-action-ddeath-devices-tags-stale: a lost device’s points aren’t known, its edge node’s are', async () => {
    edge.end('unit-1');
    await shows('cooling-call', '0 ?');
    await shows('fan-call', '1');
  });

  test('tck-id-operational-behavior-host-reordering-rebirth: a lost message is seen, a rebirth is asked for, and between them nothing is known', async () => {
    edge.data([call(true)], 'unit-1');
    await shows('cooling-call', '0 1');
    const asked = edge.commands.length;
    edge.loseOne();
    edge.data([{ name: 'Fan', type: 'Boolean', value: false }]);
    const rebirth = await ingest.seen('rebirth-asked', ({ why }) => why === 'out-of-order');
    expect(rebirth).toMatchObject({ group: 'school', edge: 'edge-1' });
    await shows('cooling-call', '0 1 ? 0');
    expect(edge.commands.at(asked)).toMatchObject({
      metrics: [{ name: 'Node Control/Rebirth', type: 'Boolean', value: true }],
    });
  });

  test('history takes its own place; a null isn’t known; what is no value of a point is set aside alone', async () => {
    const anHourAgo = Date.now() - 3_600_000;
    const set = { numOfColumns: 1, columns: ['a'], types: ['Int8' as const], rows: [[1]] };
    edge.data(
      [
        call(true, { timestamp: anHourAgo, isHistorical: true }),
        { name: 'volts', type: 'DataSet', value: set } as UMetric,
      ],
      'unit-1',
    );
    edge.data([call(null)], 'unit-1');
    await shows('cooling-call', '1 0 ?');
    const rejected = await readRejected(database);
    expect(rejected).toMatchObject([
      { reason: 'sparkplug-type', topic: 'spBv1.0/school/DDATA/edge-1/unit-1' },
    ]);
    expect(rejected[0]!.detail).toContain('school/edge-1/unit-1/volts');
    expect(await valuesOf('control-voltage')).toBe('26.5');
  });

  // the embedded broker restarts with us: edge nodes connect again, and are born
  test.skipIf(!startBroker)(
    'after a restart of ours names aren’t guessed: a rebirth is asked for',
    async () => {
      running.splice(running.indexOf(ingest), 1);
      await ingest.stop();
      edge.births = { node: BIRTHS.node, devices: { 'unit-1': [call(true), volts(25)] } };
      const next = await start(brokerUrl);
      await next.seen('rebirth-asked', ({ why }) => why === 'first');
      await shows('cooling-call', '0 ? 1');
    },
  );

  // of the embedded one nobody could read it
  test.skipIf(!startBroker)(
    'tck-id-host-topic-phid-death-payload-timestamp-disconnect-clean: an orderly end says so first',
    async () => {
      const watcher = kept(await watchState(ingest.url));
      await watcher.says(true);
      // tck-id-operational-behavior-host-application-termination
      running.splice(running.indexOf(ingest), 1);
      await ingest.stop();
      await watcher.says(false);
    },
  );
});

test('births and data sent with QoS 1 are answered when they are in the database; one that came early, with the one before it', async () => {
  const ingest = kept(await startTestIngest({ databaseUrl: store.url, id: 'sparkplug', reorderSeconds: 60 }));
  const [first, second] = [await connectClient(ingest.url), await connectClient(ingest.url)];
  const t = Date.now();
  const send = (client: MqttClient, kind: string, seq: number, value: boolean, more: UMetric[] = []) => {
    const metrics = [{ ...call(value), alias: 1, timestamp: t + seq }, ...more];
    const payload = Buffer.from(encoded({ timestamp: t + seq, seq, metrics }));
    const device = kind.startsWith('D') ? '/unit-1' : '';
    return client.publishAsync(`spBv1.0/school/${kind}/edge-1${device}`, payload, { qos: 1 });
  };
  await send(first, 'NBIRTH', 0, true, [{ name: 'bdSeq', type: 'UInt64', value: 0 }]);
  await send(first, 'DBIRTH', 1, false);
  expect(await valuesOf('cooling-call')).toBe('0');
  let isAnswered = false;
  const early = send(second, 'DDATA', 3, false).then(() => (isAnswered = true));
  await send(first, 'NCMD', 0, true); // what passes at once comes back before it
  expect(isAnswered).toBe(false);
  await send(first, 'DDATA', 2, true);
  await early;
  expect(await valuesOf('cooling-call')).toBe('0 1 0');
  await Promise.all([first.endAsync(), second.endAsync()]);
});

interface State {
  readonly online: boolean;
  readonly timestamp: number;
}

async function watchState(url: string) {
  const client: MqttClient = await connectClient(url);
  const said: State[] = [];
  client.on('message', (_, payload) => said.push(JSON.parse(payload.toString()) as State));
  await client.subscribeAsync(STATE, { qos: 1 });
  return {
    said,
    says: (online: boolean) =>
      until(
        async () => said.at(-1),
        (state) => state?.online === online,
        20,
      ),
    stop: () => client.endAsync(true),
  };
}

/** A broker that lets us see what the host application sends it. */
async function startSeeingBroker() {
  const broker = await Aedes.createBroker();
  const sockets = new Set<{ destroy(): void }>();
  const server = createServer((socket) => {
    sockets.add(socket);
    void broker.handle(socket);
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  const done: string[] = [];
  const hosts: Client[] = [];
  broker.on('client', (client) => {
    if (!client.id.endsWith('-sparkplug')) return;
    hosts.push(client);
    done.push('connected');
  });
  broker.on('subscribe', (subscriptions, client) => {
    if (client.id.endsWith('-sparkplug'))
      done.push(...subscriptions.map(({ topic, qos }) => `subscribed ${topic} ${qos}`));
  });
  broker.on('publish', ({ topic, qos, retain, payload }, client) => {
    if (client?.id.endsWith('-sparkplug'))
      done.push(
        `published ${topic} ${qos}${retain ? ' retained' : ''} ${topic === STATE ? String(payload) : ''}`,
      );
  });
  return {
    url: `mqtt://127.0.0.1:${(server.address() as AddressInfo).port}`,
    broker,
    done,
    hosts,
    stop: async () => {
      for (const socket of sockets) socket.destroy();
      server.close();
      await new Promise<void>((closed) => broker.close(closed));
    },
  };
}

interface WillOf {
  readonly will: { topic: string; payload: Buffer; qos: number; retain: boolean };
  readonly clean: boolean;
  readonly conn: { destroy(): void };
}

test('a host application connects clean, with a will; it listens, then says that it is there, then asks for births', async () => {
  const seeing = kept(await startSeeingBroker());
  const ingest = await start(seeing.url);
  await ingest.seen('rebirth-asked');
  await until(
    async () => seeing.done.length,
    (steps) => steps >= 5,
    20,
  );
  const host = seeing.hosts[0] as unknown as WillOf;
  const will = JSON.parse(String(host.will.payload)) as State;
  // tck-id-message-flow-phid-sparkplug-clean-session-311
  expect(host.clean).toBe(true);
  // tck-id-host-topic-phid-death-required, tck-id-host-topic-phid-death-topic, tck-id-host-topic-phid-death-qos,
  // tck-id-host-topic-phid-death-retain, tck-id-payloads-state-will-message, tck-id-payloads-state-will-message-qos,
  // tck-id-payloads-state-will-message-retain, tck-id-operational-behavior-host-application-connect-will,
  // tck-id-operational-behavior-host-application-connect-will-topic, tck-id-operational-behavior-host-application-connect-will-qos,
  // tck-id-operational-behavior-host-application-connect-will-retained
  expect(host.will).toMatchObject({ topic: STATE, qos: 1, retain: true });
  // tck-id-host-topic-phid-death-payload, tck-id-payloads-state-will-message-payload,
  // tck-id-operational-behavior-host-application-connect-will-payload
  expect(will).toEqual({ online: false, timestamp: expect.any(Number) as number });
  // tck-id-host-topic-phid-death-payload-timestamp-connect
  expect(Math.abs(will.timestamp - Date.now())).toBeLessThan(300_000);
  // subscriptions: tck-id-host-topic-phid-birth-sub-required, tck-id-message-flow-phid-sparkplug-subscription,
  // tck-id-payloads-state-subscribe
  // the birth: tck-id-host-topic-phid-birth-message, tck-id-host-topic-phid-birth-qos, tck-id-host-topic-phid-birth-retain,
  // tck-id-host-topic-phid-birth-topic, tck-id-host-topic-phid-birth-required, tck-id-host-topic-phid-birth-payload,
  // tck-id-host-topic-phid-birth-payload-timestamp, tck-id-message-flow-phid-sparkplug-state-publish,
  // tck-id-message-flow-phid-sparkplug-state-publish-payload-timestamp, tck-id-payloads-state-birth,
  // tck-id-payloads-state-birth-payload, tck-id-operational-behavior-host-application-connect-birth,
  // tck-id-operational-behavior-primary-application-state-with-multiple-servers-state
  // the command: tck-id-topics-ncmd-mqtt, tck-id-payloads-ncmd-qos, tck-id-payloads-ncmd-retain,
  // tck-id-operational-behavior-data-commands-ncmd-rebirth-verb
  expect(seeing.done.slice(0, 5)).toEqual([
    'connected',
    `subscribed ${STATE} 1`,
    'subscribed spBv1.0/school/+/edge-1/# 1',
    `published ${STATE} 1 retained {"online":true,"timestamp":${will.timestamp}}`,
    'published spBv1.0/school/NCMD/edge-1 0 ',
  ]);
});

test('tck-id-message-flow-hid-sparkplug-state-message-delivered: told that it is gone, it says that it is there', async () => {
  const seeing = kept(await startSeeingBroker());
  const ingest = await start(seeing.url);
  await ingest.seen('host-state', ({ online }) => online);
  const watcher = kept(await watchState(seeing.url));
  const { timestamp } = (await watcher.says(true))!;
  const liar = kept(await watchState(seeing.url));
  const other = await connectClient(seeing.url);
  await other.publishAsync(STATE, '{"online":false,"timestamp":1}', { qos: 1, retain: true });
  await until(
    async () => liar.said,
    (said) => said.some(({ online }) => !online) && said.at(-1)?.online === true,
    20,
  );
  expect(liar.said.at(-1)).toEqual({ online: true, timestamp });
  await other.endAsync();
});

test('a lost connection: the will says so, points aren’t known, and the next connection has a will and a birth of its own time', async () => {
  const seeing = kept(await startSeeingBroker());
  const ingest = await start(seeing.url);
  await ingest.seen('host-state', ({ online }) => online);
  const edge = kept(startEdge(seeing.url, BIRTHS));
  await shows('cooling-call', '0');
  const watcher = kept(await watchState(seeing.url));
  const first = (await watcher.says(true))!;
  (seeing.hosts[0] as unknown as WillOf).conn.destroy();
  await watcher.says(false);
  const next = (await watcher.says(true))!;
  expect(next.timestamp).toBeGreaterThan(first.timestamp);
  expect(JSON.parse(String((seeing.hosts[1] as unknown as WillOf).will.payload))).toEqual({
    online: false,
    timestamp: next.timestamp,
  });
  await shows('cooling-call', '0 ? 0');
  expect(edge.commands.length).toBeGreaterThan(0);
});

test('edge nodes are listened to while points name them, and there is a host only while one is', async () => {
  const seeing = kept(await startSeeingBroker());
  await putDocument(database, 'small-school', SMALL_SCHOOL);
  const ingest = await start(seeing.url);
  await ingest.seen('caught-up');
  expect(seeing.hosts).toEqual([]);
  await putDocument(database, 'small-school', SCHOOL);
  await ingest.seen('host-state', ({ online }) => online);
  await putDocument(database, 'small-school', SMALL_SCHOOL);
  await ingest.seen('host-state', ({ online }) => !online);
  // the broker is there all the while
  expect(ingest.observations.map(({ kind }) => kind)).not.toContain('broker-lost');
  await putDocument(database, 'small-school', SCHOOL);
});
