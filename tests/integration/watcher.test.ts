import { once } from 'node:events';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { createServer as createHttp, type Server } from 'node:http';
import { connect, createServer, type AddressInfo, type Server as NetServer } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startEmbedded, type EmbeddedPostgres } from '../../db/embedded/start.ts';
import { migrate } from '../../db/migrate.ts';
import { openDatabase, type Database } from '../../db/pool.ts';
import { startIngest, type Ingest } from '../../ingest/start.ts';
import { IngestHealth } from '../../server/ingest-health.ts';
import { FOLLOW_DEFAULTS, startFollower } from '../../server/follow/follower.ts';
import { makeSetups } from '../../server/follow/setup.ts';
import { signWebhook } from '../../server/notify/webhook.ts';
import { makeLooker } from '../../server/watcher/look.ts';
import { startWatcher, type Watcher } from '../../server/watcher/watcher.ts';
import { seconds } from '../../shared/base/instant.ts';
import { FOLDS } from '../../shared/inference/folds.ts';
import { commit, putDocument } from '../fixtures/follow-store.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/**
 * The watcher watched, with parts that really stop: a PostgreSQL of its own, a Mosquitto, an ingest, inference that nobody
 * does. The second path is a webhook and mail, which need none of them.
 */
const SECRET = 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw';
const soon = { onDelaySeconds: 1, offDelaySeconds: 1 };
/** what comes back with the broker or the database has this long for its first sign of life, before it counts as a failure of its own */
const ALLOWED = { onDelaySeconds: 5, offDelaySeconds: 1 };
const DELAYS = { database: soon, broker: soon, ingest: ALLOWED, inference: soon };
const clock = () => Math.round((performance.timeOrigin + performance.now()) * 1000);

interface Heard {
  readonly id: string;
  readonly type: string;
  readonly watched: string | undefined;
  readonly signed: boolean;
}

let folder: string;
let postgres: EmbeddedPostgres;
let relay: NetServer;
let broker: Mosquitto;
let smtp: Smtp;
let hook: Server;
let ingest: Ingest;
let database: Database;
let url: string;
const heard: Heard[] = [];
const health = new IngestHealth();
const refusals: number[] = [];

/** PostgreSQL comes back on another port; what leans on it knows one address. */
function startRelay(): Promise<NetServer> {
  const server = createServer((client) => {
    const there = connect(Number(new URL(postgres.url).port), '127.0.0.1');
    for (const [from, to] of [
      [client, there],
      [there, client],
    ] as const) {
      from.on('error', () => to.destroy()).on('close', () => to.destroy());
      from.pipe(to);
    }
  });
  return new Promise((done) => server.listen(0, '127.0.0.1', () => done(server)));
}

async function startHook(): Promise<Server> {
  const server = createHttp((request, response) => {
    void (async () => {
      let body = '';
      for await (const chunk of request) body += String(chunk);
      const refusal = refusals.shift();
      if (refusal === undefined) {
        const id = request.headers['webhook-id'] as string;
        const timestamp = Number(request.headers['webhook-timestamp']);
        const { type, data } = JSON.parse(body) as { type: string; data: { watched?: string } };
        const signed =
          request.headers['webhook-signature'] === signWebhook({ secret: SECRET, id, timestamp, body });
        heard.push({ id, type, watched: data.watched, signed });
      }
      response.writeHead(refusal ?? 204).end();
    })();
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  return server;
}

function watchNow(): Watcher {
  return startWatcher({
    webhook: { url: `http://127.0.0.1:${(hook.address() as AddressInfo).port}/`, secret: SECRET },
    mail: { to: 'ops@example.org', by: { url: smtp.url, from: 'holdoff@example.org', ca: null } },
    server: 'shelters.example.org',
    file: join(folder, 'watcher.json'),
    heartbeatSeconds: 1,
    looker: makeLooker({
      databaseUrl: url,
      setups: makeSetups(),
      parts: () => health.parts(),
      now: clock,
      bounds: { silent: seconds(3), behind: seconds(1) },
    }),
    now: clock,
    delays: DELAYS,
    lookEveryMs: 100,
    observe: () => {},
  });
}

const startIngesting = (): Promise<Ingest> =>
  startIngest({
    databaseUrl: url,
    broker: { kind: 'external', url: broker.url, highWater: 1000, highWaterBytes: 1_000_000, group: null },
    id: 'watched',
    root: 'holdoff',
    markSeconds: 0.5,
    waveformDays: 90,
    sparkplug: { hostId: 'holdoff', reorderSeconds: 2 },
    observe: (observation) => health.note(observation),
  });

const told = () =>
  heard.filter(({ type }) => type !== 'watcher.heartbeat').map(({ type, watched }) => `${watched} ${type}`);
const hears = (lines: readonly string[]) => expect.poll(told, { interval: 50 }).toEqual(lines);
const beats = () => heard.filter(({ type }) => type === 'watcher.heartbeat').length;

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'holdoff-watcher-'));
  await chmod(folder, 0o755);
  [postgres, broker, smtp, hook] = await Promise.all([
    startEmbedded({ folder: join(folder, 'postgres'), database: 'holdoff', settings: ['fsync=off'] }),
    startMosquitto(),
    startSmtp(),
    startHook(),
  ]);
  relay = await startRelay();
  const address = new URL(postgres.url);
  address.port = String((relay.address() as AddressInfo).port);
  url = address.href;
  database = openDatabase({
    url,
    name: 'test',
    connections: 3,
    statementTimeoutMs: 20_000,
    connectTimeoutMs: 5_000,
  });
  await migrate(database);
  health.isEmbedded = false;
  ingest = await startIngesting();
});
afterAll(async () => {
  await ingest.stop();
  await database.close();
  relay.close();
  await postgres.stop();
  await broker.stop();
  await smtp.stop();
  hook.close();
  await rm(folder, { recursive: true, force: true });
});

test.skipIf(MOSQUITTO_IS_MISSING)(
  'database, broker, ingest and inference each fail and come back: one message each way, past what has failed',
  async () => {
    let watcher = watchNow();
    await expect.poll(beats).toBeGreaterThanOrEqual(2);
    expect(told()).toEqual([]);

    // a real PostgreSQL is stopped; the first attempt to tell of it is refused
    refusals.push(500);
    await postgres.stop();
    const lines = ['database watcher.trouble'];
    await hears(lines);
    const before = beats();
    // this process ends and another takes its place: the same outage isn't told twice
    await watcher.stop();
    watcher = watchNow();
    await new Promise((done) => setTimeout(done, 1500));
    expect(told()).toEqual(lines);
    expect(beats()).toBe(before);
    postgres = await startEmbedded({
      folder: join(folder, 'postgres'),
      database: 'holdoff',
      settings: ['fsync=off'],
    });
    lines.push('database watcher.over');
    await hears(lines);

    // a real broker is killed: ingest is silent with it, and that is no message of its own
    await broker.kill();
    lines.push('broker watcher.trouble');
    await hears(lines);
    await broker.restart();
    lines.push('broker watcher.over');
    await hears(lines);

    await ingest.stop();
    health.note({ kind: 'broker-connected' });
    lines.push('ingest watcher.trouble');
    await hears(lines);
    ingest = await startIngesting();
    lines.push('ingest watcher.over');
    await hears(lines);

    // rows that nobody folds
    await putDocument(database, 'rowan', {
      timeZone: 'UTC',
      panels: [{ id: 'panel-a' }],
      units: [{ id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }] }],
    });
    await commit(database, 'rowan', [
      { gateway: 'gateway', rows: [{ key: 'unit-1/cooling-call', t: seconds(1e9), value: 1 }] },
    ]);
    lines.push('inference watcher.trouble');
    await hears(lines);
    const follower = startFollower({ ...FOLLOW_DEFAULTS, database, folds: FOLDS, observe: () => {} });
    lines.push('inference watcher.over');
    await hears(lines);
    await follower.stop();
    const well = beats();
    await expect.poll(beats).toBeGreaterThan(well);
    await watcher.stop();

    expect(heard.every(({ signed }) => signed)).toBe(true);
    expect(new Set(heard.map(({ id }) => id)).size).toBe(heard.length);
    const subjects = smtp.mails
      .map(({ headers }) => headers.get('subject')!)
      .filter((one) => !one.includes('all is well'));
    expect(subjects[0]).toBe('Holdoff at shelters.example.org: the database isn’t reachable');
    expect(subjects).toHaveLength(8);
  },
);
