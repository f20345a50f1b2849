import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { connect as openSocket } from 'node:net';
import { networkInterfaces, tmpdir } from 'node:os';
import { join } from 'node:path';
import { connect as connectWithout, connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import { readIngestSettings } from '../../ingest/settings.ts';
import { makeCredential } from '../../server/gateways/make-credential.ts';
import type { GatewayAccess } from '../../shared/wire/gateway-access.ts';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { makeCertificate } from '../fixtures/certificate.ts';
import { putDocument, readSamples, startTestIngest, wallClock, type TestIngest } from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

/**
 * The embedded broker with TLS, credentials and nobody let in without: a gateway that publishes to another site, with a
 * revoked password, with an expired certificate, without TLS is refused, told why in the log and on the page, counted.
 */
const SITE = 'small-school';
const OWN = `holdoff/${SITE}/unit-1/cooling-call`;
const ELSEWHERE = 'holdoff/another-school/unit-1/cooling-call';
const brokers = makeCertificate('127.0.0.1');
let api: ApiServer;
let ingest: TestIngest;
let folder: string;
const clients: MqttClient[] = [];

beforeAll(async () => {
  api = await startApi();
  for (const site of [SITE, 'another-school']) await putDocument(api.store.database, site, SMALL_SCHOOL);
  folder = await mkdtemp(join(tmpdir(), 'holdoff-door-'));
  const [certFile, keyFile] = [join(folder, 'cert.pem'), join(folder, 'key.pem')];
  await writeFile(certFile, brokers.cert);
  await writeFile(keyFile, brokers.key);
  const tls = { host: '127.0.0.1', port: 0, certFile, keyFile };
  ingest = await startTestIngest({ databaseUrl: api.store.url, door: { tls, anonymous: false } });
});
afterEach(async () => {
  await Promise.all(clients.splice(0).map((client) => client.endAsync(true)));
});
afterAll(async () => {
  await ingest.stop();
  await rm(folder, { recursive: true, force: true });
  await api.stop();
});

interface Made {
  readonly id: string;
  readonly username: string;
  readonly password: string;
}

async function make(ask: object = { kind: 'password' }): Promise<Made> {
  await revokeAll();
  const { status, body } = await api.send('POST', `/api/sites/${SITE}/gateways/gateway/credentials`, ask);
  expect(status, JSON.stringify(body)).toBe(201);
  return { ...body.credential, password: body.password };
}

const revoke = (id: string) => api.send('DELETE', `/api/sites/${SITE}/gateways/gateway/credentials/${id}`);

async function revokeAll(): Promise<void> {
  for (const { id, state } of (await page()).gateways[0]!.credentials)
    if (state === 'valid') await revoke(id);
}

const page = async (): Promise<GatewayAccess> => (await api.get(`/api/sites/${SITE}/gateways`)).body;

async function connect(options: IClientOptions = {}): Promise<MqttClient> {
  const client = await connectAsync(`mqtts://127.0.0.1:${ingest.tlsPort}`, {
    ca: brokers.cert,
    reconnectPeriod: 0,
    ...options,
  });
  clients.push(client);
  return client;
}

const asUser = ({ username, password }: Made): IClientOptions => ({ username, password });

/** The log's line and the page's row for it, the user's last. */
async function refused(why: RefusalWhy, username: string, times = 1) {
  const told = await ingest.seen('gateway-refused', (one) => one.why === why && one.username === username);
  await expect
    .poll(
      async () => (await page()).refusals.find((one) => one.why === why && one.username === username)?.times,
    )
    .toBe(times);
  return told;
}

const values = async () => (await readSamples(api.store.database)).map(({ key }) => key);

test('a gateway publishes below its own site; elsewhere it goes nowhere, is told of and counted', async () => {
  const made = await make();
  const gateway = await connect(asUser(made));
  await gateway.publishAsync(ELSEWHERE, '{"t":1000,"v":1}', { qos: 1 });
  await gateway.publishAsync(ELSEWHERE, '{"t":2000,"v":1}', { qos: 2, retain: true });
  await gateway.publishAsync(OWN, '{"t":1000,"v":1}', { qos: 1 });
  expect(await values()).toEqual([`${SITE}/unit-1/cooling-call`]);
  expect(await refused('publish-elsewhere', made.username, 2)).toMatchObject({
    detail: ELSEWHERE,
    address: '127.0.0.1',
  });
  const { credentials, publish } = (await page()).gateways[0]!;
  expect(publish).toEqual([`holdoff/${SITE}/#`]);
  expect(credentials.find(({ id }) => id === made.id)).toMatchObject({
    usedFrom: '127.0.0.1',
    state: 'valid',
  });
});

test('a topic that was given to its point a moment ago is its own at once', async () => {
  const gateway = await connect(asUser(await make()));
  const unit = SMALL_SCHOOL.units[0]!;
  const points = [
    ...unit.points.filter(({ signal }) => signal !== 'supply-air-temperature'),
    {
      signal: 'supply-air-temperature',
      reporting: { mode: 'polled', seconds: 60 },
      source: { topic: 'plant/7/air' },
    },
  ];
  await putDocument(api.store.database, SITE, { ...SMALL_SCHOOL, units: [{ ...unit, points }] });
  await gateway.publishAsync('plant/7/air', '{"t":3000,"v":14}', { qos: 1 });
  expect(await values()).toContain(`${SITE}/unit-1/supply-air-temperature`);
});

test('a gateway hears its own site and nothing of others', async () => {
  const made = await make();
  const gateway = await connect(asUser(made));
  const granted = await gateway.subscribeAsync({ [`holdoff/${SITE}/#`]: { qos: 0 } });
  expect(granted.map(({ qos }) => qos)).toEqual([0]);
  await expect(gateway.subscribeAsync('holdoff/#')).rejects.toThrow();
  await refused('subscribe-elsewhere', made.username);
});

test('a wrong password and a user that nobody knows are refused', async () => {
  const made = await make();
  await expect(connect({ ...asUser(made), password: 'guessed' })).rejects.toThrow();
  await expect(connect({ username: 'stranger\nuser', password: 'guessed' })).rejects.toThrow();
  await expect(connect()).rejects.toThrow();
  await refused('wrong-password', made.username);
  await refused('unknown-user', 'stranger?user');
  await refused('no-credentials', '');
});

test('a revoked password ends the connection that it opened, and opens none', async () => {
  const made = await make();
  const gateway = await connect(asUser(made));
  const closed = new Promise<void>((done) => gateway.once('close', () => done()));
  expect((await revoke(made.id)).status).toBe(204);
  await closed;
  await expect(connect(asUser(made))).rejects.toThrow();
  await refused('revoked', made.username, 2);
  expect((await revoke(made.id)).status).toBe(404);
});

test('rotated, the old and the new one are good at once until the overlap is over; there is no third', async () => {
  const old = await make();
  const path = `/api/sites/${SITE}/gateways/gateway/credentials`;
  const ask = { kind: 'password', replaces: old.id };
  const answer = await api.send('POST', path, { ...ask, overlapHours: 24 });
  const next: Made = { ...answer.body.credential, password: answer.body.password };
  const [first, second] = [await connect(asUser(old)), await connect(asUser(next))];
  expect([first.connected, second.connected]).toEqual([true, true]);
  expect((await api.send('POST', path, { kind: 'password' })).status).toBe(409);
  await revoke(next.id);
  const last = await api.send('POST', path, { ...ask, overlapHours: 0 });
  expect(last.status).toBe(201);
  await expect(connect(asUser(old))).rejects.toThrow();
  await refused('ended', old.username);
});

describe('a certificate', () => {
  const name = `${SITE}.gateway.2026`;
  const own = makeCertificate(name, { isAuthority: false });

  test('that was added lets its gateway in, and no other does; a private key isn’t taken', async () => {
    const made = await make({ kind: 'certificate', certificate: own.cert });
    expect(made).toMatchObject({ username: name, password: null });
    const gateway = await connect({ cert: own.cert, key: own.key });
    await gateway.publishAsync(OWN, '{"t":5000,"v":0}', { qos: 1 });
    const another = makeCertificate(name, { isAuthority: false });
    await expect(connect({ cert: another.cert, key: another.key })).rejects.toThrow();
    await refused('certificate-unknown', '');
    await revoke(made.id);
    await expect(connect({ cert: own.cert, key: own.key })).rejects.toThrow();
    for (const [certificate, says] of [
      [own.key, /private key/],
      [makeCertificate(name).cert, /authority/],
      ['hello', /PEM/],
      [makeCertificate(name, { isAuthority: false, from: Date.now() - 86_400_000 }).cert, /expired/],
    ] as const) {
      const { status, body } = await api.send('POST', `/api/sites/${SITE}/gateways/gateway/credentials`, {
        kind: 'certificate',
        certificate,
      });
      expect(status).toBe(400);
      expect(body.faults[0]).toMatchObject({ pointer: '/certificate', message: expect.stringMatching(says) });
    }
  });

  test('that has expired is refused, though it was added while it was valid', async () => {
    await revokeAll();
    const yesterday = Date.now() - 86_400_000;
    const past = makeCertificate(`${SITE}.gateway.2025`, { isAuthority: false, from: yesterday });
    const made = await api.store.database.transaction({ name: 'add' }, (queries) =>
      makeCredential(queries, {
        site: SITE,
        gateway: 'gateway',
        by: 'test',
        kind: 'certificate',
        certificate: past.cert,
        now: wallClock() - 86_000_000_000,
      }),
    );
    expect(made.ok).toBe(true);
    await expect(connect({ cert: past.cert, key: past.key })).rejects.toThrow();
    const told = await refused('certificate-expired', '');
    expect(told.detail).toContain(`${SITE}.gateway.2025`);
  });
});

test('without TLS nobody gets in by the port that asks for it', async () => {
  const plain = connectWithout(`mqtt://127.0.0.1:${ingest.tlsPort}`, { reconnectPeriod: 0 });
  clients.push(plain);
  plain.on('error', () => {});
  await new Promise<void>((closed) => plain.once('close', () => closed()));
  expect(plain.connected).toBe(false);
  expect((await refused('no-tls', '')).address).toBe('127.0.0.1');
});

test('the port without TLS is there on loopback alone', async () => {
  const outside = Object.values(networkInterfaces())
    .flatMap((all) => all ?? [])
    .find(({ internal, family }) => !internal && family === 'IPv4');
  if (!outside) return; // this machine has no other address
  const socket = openSocket({ host: outside.address, port: Number(new URL(ingest.url).port) });
  await expect(
    new Promise((open, failed) => socket.once('connect', open).once('error', failed)),
  ).rejects.toThrow();
});

describe('the settings', () => {
  const read = (environment: Record<string, string>) => readIngestSettings(environment, '/data').broker;

  test('beyond loopback the broker doesn’t listen without TLS, and it is said what to do', () => {
    expect(() => read({ MQTT_HOST: '0.0.0.0' })).toThrow(
      'MQTT_HOST=0.0.0.0 would let other machines reach the broker without TLS: give MQTT_TLS_CERT and MQTT_TLS_KEY',
    );
    expect(() => read({ MQTT_HOST: '0.0.0.0', MQTT_TLS_CERT: 'cert.pem' })).toThrow('give both');
    expect(read({ MQTT_HOST: '0.0.0.0', MQTT_TLS_CERT: 'cert.pem', MQTT_TLS_KEY: 'key.pem' })).toMatchObject({
      host: '127.0.0.1',
      port: 1883,
      tls: { host: '0.0.0.0', port: 8883, certFile: 'cert.pem', keyFile: 'key.pem' },
    });
  });

  test('on loopback whoever comes is let in, unless that is switched off', () => {
    expect(read({})).toMatchObject({ anonymous: true, tls: null });
    expect(read({ MQTT_ANONYMOUS: '0' })).toMatchObject({ anonymous: false });
    expect(() => read({ MQTT_ANONYMOUS: 'no' })).toThrow('give 1');
  });

  test('a key that isn’t the certificate’s is named before anything listens', async () => {
    const [certFile, keyFile] = [join(folder, 'cert.pem'), join(folder, 'other-key.pem')];
    await writeFile(keyFile, makeCertificate('127.0.0.1').key);
    const tls = { host: '127.0.0.1', port: 0, certFile, keyFile };
    await expect(startTestIngest({ databaseUrl: api.store.url, id: 'other', door: { tls } })).rejects.toThrow(
      `MQTT_TLS_KEY (${keyFile}) isn’t the key of MQTT_TLS_CERT`,
    );
  });
});
