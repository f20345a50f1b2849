import { setTimeout as delay } from 'node:timers/promises';
import pino from 'pino';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { IngestHealth } from '../../server/ingest-health.ts';
import { startServer, type RunningServer } from '../../server/start-server.ts';
import { caughtUp, putDocument } from '../fixtures/follow-store.ts';
import { startTestIngest, type TestIngest } from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { sendFromOutbox } from '../fixtures/outbox.ts';
import { startOwnPostgres, type OwnPostgres } from '../fixtures/own-postgres.ts';
import { foldedOnce, SITE } from '../fixtures/whole-line.ts';
import { messageOfSample, QUIET_SCHOOL, unitSamples } from '../fixtures/unit-week.ts';

/**
 * One line, with real parts, through one fault after the other: whatever the broker has acknowledged is stored once; what
 * waits is bounded; readiness tells the truth meanwhile; nobody has to do anything; and in the end the events are those of the
 * record folded once. The database is away for FAULT_SECONDS (600 is ten minutes; a second in an ordinary run).
 */
const AWAY_SECONDS = Number(process.env['FAULT_SECONDS'] ?? 1);
const EACH = 400;
const PHASES = 4;
const SAMPLES = unitSamples(EACH * PHASES);
const HIGH_WATER = 300;
const HIGH_WATER_BYTES = 2_000_000;

let postgres: OwnPostgres;
let broker: Mosquitto;
let ingest: TestIngest;
let server: RunningServer;
let health: IngestHealth;
let sent = 0;

const startIngesting = (): Promise<TestIngest> =>
  startTestIngest({
    databaseUrl: postgres.url,
    brokerUrl: broker.url,
    id: 'faults',
    highWater: HIGH_WATER,
    highWaterBytes: HIGH_WATER_BYTES,
    observed: (observation) => health.note(observation),
  });

/** The next messages, through a gateway that sends again what the broker hasn't acknowledged. */
const send = (count = EACH) =>
  sendFromOutbox(broker.url, SAMPLES.slice(sent, (sent += count)).map(messageOfSample));

const COUNT = statement(
  '',
  `select count(*)::int as stored, count(*) filter (where s.quality <> 0)::int as doubtful
   from samples s join points p on p.id = s.point_id where p.signal <> 'life'`,
);
const readCount = () => postgres.ask((database) => database.one<{ stored: number; doubtful: number }>(COUNT));

async function until<T>(read: () => Promise<T>, holds: (value: T) => boolean): Promise<T> {
  const deadline = performance.now() + 60_000;
  for (;;) {
    const value = await read();
    if (holds(value)) return value;
    if (performance.now() > deadline) throw new Error(`still ${JSON.stringify(value)}`);
    await delay(50);
  }
}

interface Ready {
  readonly ready: boolean;
  readonly parts: readonly { readonly name: string; readonly ok: boolean; readonly says: string }[];
}
const readReady = async (): Promise<Ready> =>
  (await (await fetch(new URL('/api/ready', server.url))).json()) as Ready;
const partIs = (name: string, ok: boolean) =>
  until(readReady, ({ parts }) => parts.find((part) => part.name === name)?.ok === ok);

/** All that was sent is stored, each once, and nothing says that anything is wrong. */
async function recovered(fault: string): Promise<void> {
  const { stored, doubtful } = await until(readCount, (count) => count.stored === sent);
  console.log(
    `${fault}: ${sent} messages acknowledged, ${stored} samples stored, ${doubtful} twice with other values`,
  );
  expect(doubtful).toBe(0);
  await until(
    readReady,
    ({ ready, parts }) => ready && parts.every(({ name, ok }) => ok || name === 'inference'),
  );
}

const since = (count: number, kind: string) =>
  until(
    async () => ingest.observations.slice(count).some((one) => one.kind === kind),
    (found) => found,
  );

describe.skipIf(MOSQUITTO_IS_MISSING)('a line through faults', () => {
  beforeAll(async () => {
    postgres = await startOwnPostgres(256);
    broker = await startMosquitto();
    await postgres.ask((database) => putDocument(database, SITE, QUIET_SCHOOL));
    health = new IngestHealth();
    health.isEmbedded = false;
    ingest = await startIngesting();
    server = await startServer({
      databaseUrl: postgres.url,
      databaseKind: 'external',
      host: '127.0.0.1',
      port: 0,
      token: null,
      pageFolder: null,
      parts: () => health.parts(),
      logger: pino({ level: 'silent' }),
      version: 'test',
    });
    await ingest.seen('caught-up');
  });
  afterAll(async () => {
    await ingest.stop();
    await server.stop();
    await broker.stop();
    await postgres.stop();
  });

  test(`the database is away for ${AWAY_SECONDS} s`, async () => {
    const before = ingest.observations.length;
    postgres.proxy.shut();
    await send().done;
    await since(before, 'commit-delayed');
    await partIs('database', false);
    expect((await readReady()).ready).toBe(false);
    await partIs('ingest', false);
    await delay(AWAY_SECONDS * 1_000); // what is tested is that so much time passes
    expect((await readCount()).stored).toBeLessThan(sent);
    postgres.proxy.open();
    await recovered('database away');
  });

  test('the database’s processes die in the middle of a batch', async () => {
    const outbox = send();
    await outbox.reaches(EACH / 2);
    await postgres.restart();
    await outbox.done;
    await recovered('database restarted');
  });

  test('its disk is full', async (context) => {
    if (!postgres.disk) return context.skip('this account can’t mount a disk of its own');
    const before = ingest.observations.length;
    await postgres.disk.fill();
    await send().done;
    // a table grows only now and then: what is set aside needs room at once
    await sendFromOutbox(broker.url, junk(40, 1_000)).done;
    await since(before, 'commit-delayed');
    await partIs('ingest', false);
    const error = ingest.observations.slice(before).find((one) => one.kind === 'commit-delayed');
    console.log(`disk full: ${error?.kind === 'commit-delayed' ? error.error.message : ''}`);
    await postgres.disk.empty();
    await recovered('disk full');
  });

  test('the broker goes, and comes back', async () => {
    const outbox = send();
    await outbox.reaches(EACH / 4);
    await broker.end();
    await partIs('broker', false);
    await broker.restart();
    await outbox.done;
    await recovered('broker away');
  });

  test('and the events are those of the record folded once', async () => {
    const once = foldedOnce(SAMPLES.slice(0, sent));
    const events = await postgres.ask((database) => caughtUp(database, SITE));
    const told = events.filter(({ kind }) => kind !== 'telemetry-gap'); // when we listened is another matter
    expect(told).toEqual(once.filter(({ kind }) => kind !== 'telemetry-gap'));
    expect(told.length).toBeGreaterThan(20);
    console.log(`${told.length} events, as of an undisturbed run`);
  });
});

const junk = (count: number, bytes: number) =>
  Array.from({ length: count }, (_, i) => ({
    topic: `holdoff/${SITE}/unit-1/nothing-known`,
    payload: `${i} `.padEnd(bytes, 'x'),
  }));
