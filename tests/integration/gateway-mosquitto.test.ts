import { execFile } from 'node:child_process';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { promisify } from 'node:util';
import { connect, connectAsync, type IClientOptions, type MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, describe, expect, test } from 'vitest';
import type { RefusalWhy } from '../../shared/wire/gateway-refusals.ts';
import { publishingExamples, type PublishingExample } from '../../shared/wire/publishing-examples.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { makeCertificate } from '../fixtures/certificate.ts';
import { putDocument, readSamples, startTestIngest, type TestIngest } from '../fixtures/ingest.ts';
import { freePort, MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';

/**
 * The files of `npm run mosquitto`, read by a real Mosquitto: the gateways that were set up are let in, each to its own site,
 * and nobody else; what it refuses is read out of its log. The publishing examples are run against it as they are shown.
 */
const SITE = 'small-school';
const OWN = `holdoff/${SITE}/unit-1/cooling-call`;
const ELSEWHERE = 'holdoff/another-school/unit-1/cooling-call';
const run = promisify(execFile);
const server = makeCertificate('127.0.0.1');
const gateways = makeCertificate(`${SITE}.gateway.2026`, { isAuthority: false });
const expired = makeCertificate(`${SITE}.gateway.2025`, {
  isAuthority: false,
  from: Date.now() - 86_400_000,
});

describe.skipIf(MOSQUITTO_IS_MISSING)('Mosquitto', () => {
  let api: ApiServer;
  let broker: Mosquitto;
  let ingest: TestIngest;
  let folder: string;
  let tlsPort: number;
  let user: { id: string; username: string; password: string };
  const clients: MqttClient[] = [];

  beforeAll(async () => {
    api = await startApi();
    for (const site of [SITE, 'another-school']) await putDocument(api.store.database, site, SMALL_SCHOOL);
    folder = await mkdtemp(join(tmpdir(), 'holdoff-mosquitto-'));
    user = await make({ kind: 'password' });
    await make({ kind: 'certificate', certificate: gateways.cert });
    const said = await writeFiles();
    const own = /MQTT_URL=mqtt:\/\/(holdoff-ingest:\S+)@/.exec(said)![1]!;
    // an expired one is trusted, too: Mosquitto itself must look at its end
    const trusted = join(folder, 'certificates.pem');
    await writeFile(join(folder, 'trusted.pem'), (await readFile(trusted, 'utf8')) + expired.cert);
    for (const [name, text] of [
      ['server.pem', server.cert],
      ['server.key', server.key],
    ] as const)
      await writeFile(join(folder, name), text);
    tlsPort = await freePort();
    broker = await startMosquitto({
      allow_anonymous: 'false',
      password_file: join(folder, 'passwords'),
      acl_file: join(folder, 'access'),
      log_dest: `file ${join(folder, 'log')}\nlog_dest stderr`,
      log_type: 'all',
      connection_messages: 'true',
      pid_file: join(folder, 'pid'),
      // a second listener, by certificate
      persistent_client_expiration: `1d
listener ${tlsPort} 127.0.0.1
certfile ${join(folder, 'server.pem')}
keyfile ${join(folder, 'server.key')}
cafile ${join(folder, 'trusted.pem')}
require_certificate true
use_identity_as_username true`,
    });
    ingest = await startTestIngest({
      databaseUrl: api.store.url,
      brokerUrl: broker.url.replace('//', `//${own}@`),
      logFile: join(folder, 'log'),
    });
    await ingest.seen('caught-up');
  });
  afterEach(async () => {
    await Promise.all(clients.splice(0).map((client) => client.endAsync(true)));
  });
  afterAll(async () => {
    await ingest?.stop();
    await broker?.stop();
    await rm(folder, { recursive: true, force: true });
    await api.stop();
  });

  async function make(ask: object) {
    const { body } = await api.send('POST', `/api/sites/${SITE}/gateways/gateway/credentials`, ask);
    return { ...body.credential, password: body.password };
  }

  /** the command itself; what it says */
  async function writeFiles(...more: string[]): Promise<string> {
    const command = [
      '--import',
      'tsx',
      'server/mosquitto.ts',
      '--to',
      folder,
      '--api',
      api.server.url,
      ...more,
    ];
    const { stderr } = await run(process.execPath, command, { cwd: join(import.meta.dirname, '..', '..') });
    return stderr;
  }

  async function enter(options: IClientOptions, url = broker.url): Promise<MqttClient> {
    const client = await connectAsync(url, { reconnectPeriod: 0, ...options });
    clients.push(client);
    return client;
  }

  const byCertificate = ({ cert, key }: { cert: string; key: string }) =>
    enter({ cert, key, ca: server.cert }, `mqtts://127.0.0.1:${tlsPort}`);

  /** an attempt that comes to nothing, however the broker ends it */
  function attempt(url: string, options: IClientOptions = {}): Promise<void> {
    const client = connect(url, { reconnectPeriod: 0, ...options });
    clients.push(client);
    client.on('error', () => {});
    return new Promise((closed, failed) => {
      client.once('close', () => closed());
      client.once('connect', () => failed(new Error('let in')));
    });
  }

  async function refused(why: RefusalWhy, username = '') {
    await ingest.seen('gateway-refused', (one) => one.why === why && one.username === username);
    await expect
      .poll(async () =>
        (await api.get(`/api/sites/${SITE}/gateways`)).body.refusals.some(
          (one: { why: string; username: string }) => one.why === why && one.username === username,
        ),
      )
      .toBe(true);
  }

  const taken = async () =>
    (await readSamples(api.store.database)).map(({ key, value }) => `${key} ${value}`);

  test('lets a gateway publish below its own site, by password and by certificate; elsewhere it is denied', async () => {
    const astray = await enter(user);
    // acknowledged, for MQTT 3.1.1 knows no other answer; with `max_queued_messages 0` this version ends the connection then
    await astray.publishAsync(ELSEWHERE, '{"t":1000,"v":1}', { qos: 1 });
    const gateway = await enter(user);
    await gateway.publishAsync(OWN, '{"t":1000,"v":1}', { qos: 1 });
    const other = await byCertificate(gateways);
    await other.publishAsync(OWN, '{"t":2000,"v":0}', { qos: 1 });
    await expect.poll(taken).toEqual([`${SITE}/unit-1/cooling-call 1`, `${SITE}/unit-1/cooling-call 0`]);
    await refused('publish-elsewhere', user.username);
  });

  test('a wrong password, an expired certificate, no TLS where it is asked for: refused, told and counted', async () => {
    await attempt(broker.url, { username: user.username, password: 'guessed' });
    await refused('not-authorised');
    const { cert, key } = expired;
    await attempt(`mqtts://127.0.0.1:${tlsPort}`, { cert, key, ca: server.cert });
    await refused('certificate-refused');
    await attempt(`mqtt://127.0.0.1:${tlsPort}`);
    await refused('no-tls');
  });

  const RUN: Partial<Record<PublishingExample['language'], readonly [file: string, ...command: string[]]>> = {
    Shell: ['publish.sh', 'sh'],
    JavaScript: ['publish.mjs', process.execPath],
  };
  const example = (of: Parameters<typeof publishingExamples>[0], language: PublishingExample['language']) =>
    publishingExamples(of).find((one) => one.language === language)!.code;

  test('the publishing examples in shell and JavaScript do as they say', async () => {
    const modules = join(import.meta.dirname, '..', '..', 'node_modules');
    await run('ln', ['-sfn', modules, join(folder, 'node_modules')]);
    const of = { host: '127.0.0.1', port: broker.port, isTls: false, username: user.username, topic: OWN };
    for (const [n, language] of (['Shell', 'JavaScript'] as const).entries()) {
      const [file, program = ''] = RUN[language]!;
      const payload = `{"t":${5000 + n},"v":1}`;
      await writeFile(join(folder, file), example({ ...of, payload }, language));
      const env = { ...process.env, HOLDOFF_PASSWORD: user.password };
      await run(program, [file], { cwd: folder, env });
    }
    const times = async () => (await readSamples(api.store.database)).map(({ t }) => t);
    await expect.poll(times).toEqual(expect.arrayContaining([5_000_000, 5_001_000]));
  });

  /** PYTHON names one that has paho-mqtt */
  const interpreter = process.env['PYTHON'] ?? 'python3';
  const hasPython = async (...code: string[]) =>
    run(interpreter, code).then(
      () => true,
      () => false,
    );
  test('that in Python compiles, and publishes where paho-mqtt 2 is installed', async ({ skip }) => {
    skip(!(await hasPython('--version')), 'no python3 here: the example isn’t compiled');
    const of = { host: '127.0.0.1', port: broker.port, username: user.username, topic: OWN };
    const payload = '{"t":5002,"v":1}';
    for (const isTls of [true, false]) {
      await writeFile(join(folder, 'publish.py'), example({ ...of, isTls, payload }, 'Python'));
      await run(interpreter, ['-m', 'py_compile', 'publish.py'], { cwd: folder });
    }
    const hasPaho = await hasPython('-c', 'import paho.mqtt.client as m; m.CallbackAPIVersion');
    skip(!hasPaho, 'paho-mqtt 2 isn’t installed here: the example is compiled and not run');
    await run(interpreter, ['publish.py'], {
      cwd: folder,
      env: { ...process.env, HOLDOFF_PASSWORD: user.password },
    });
    const times = async () => (await readSamples(api.store.database)).map(({ t }) => t);
    await expect.poll(times).toContain(5_002_000);
  });

  test('a revoked password is refused once the files are read anew, and what it had opened is ended', async () => {
    const gateway = await enter(user);
    const closed = new Promise<void>((done) => gateway.once('close', () => done()));
    await api.send('DELETE', `/api/sites/${SITE}/gateways/gateway/credentials/${user.id}`);
    await writeFiles('--pid-file', join(folder, 'pid'));
    await closed;
    await attempt(broker.url, user);
    expect(await readFile(join(folder, 'passwords'), 'utf8')).not.toContain(user.username);
  });
});
