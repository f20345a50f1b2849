import { setTimeout as delay } from 'node:timers/promises';
import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement, type Database } from '../../db/pool.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { putDocument } from '../fixtures/ingest.ts';
import { embeddedUrl, stopLeftBehind } from '../fixtures/left-behind.ts';
import { freePort } from '../fixtures/mosquitto.ts';
import { sendFromOutbox } from '../fixtures/outbox.ts';
import { freshDatabase, openTestDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { messageOfSample, QUIET_SCHOOL, unitSamples } from '../fixtures/unit-week.ts';

/**
 * Database, broker, ingest and server in one process, which is killed hard while a gateway with an outbox of its own sends
 * 20,000 messages. Its PUBACK is the gateway's only proof, so at every kill each acknowledged sample must already be there;
 * and in the end the same has been inferred as by a process that nobody disturbed.
 */
/** with CI=true half of it (tests/fixtures/seed.ts says why) */
const SHARE = process.env['CI'] === 'true' ? 0.5 : 1;
const MESSAGES = 20_000 * SHARE;
const KILLS = 6 * SHARE;
/** Acknowledged messages between two kills. */
const EVERY = 2_000;
const SITE = 'quiet-school';
const SAMPLES = unitSamples(MESSAGES);

let folder: string;
let port: number;
let undisturbed: FreshDatabase;
const children: Child[] = [];
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'holdoff-kill-'));
  await chmod(folder, 0o755);
  port = await freePort();
  undisturbed = await freshDatabase();
});
afterAll(async () => {
  for (const child of children) await child.kill();
  await stopLeftBehind(folder); // only where the test failed
  await rm(folder, { recursive: true, force: true });
  await undisturbed.drop();
});

async function start(
  environment: Record<string, string>,
): Promise<{ child: Child; url: string; mqttPort: number }> {
  const child = startChild('tests/fixtures/everything.ts', environment);
  children.push(child);
  const { url, mqttPort } = await child.said('everything runs');
  return { child, url: String(url), mqttPort: Number(mqttPort) };
}

const startOnFolder = () => start({ DATA_DIR: folder, MQTT_PORT: String(port) });

test(`${MESSAGES} messages, ${KILLS} kills: what was acknowledged is there once, and the events are those of an undisturbed run`, async () => {
  const messages = SAMPLES.map(messageOfSample);
  let running = await startOnFolder();
  await asked((database) => putDocument(database, SITE, QUIET_SCHOOL));
  const outbox = sendFromOutbox(`mqtt://127.0.0.1:${port}`, messages);
  let landed = 0;
  for (let kill = 1; kill <= KILLS; kill++) {
    await outbox.reaches(kill * EVERY);
    const { inFlight, unsent } = outbox;
    await running.child.kill();
    if (inFlight > 0 && unsent >= 5_000 * SHARE) landed++;
    console.log(`kill ${kill} landed: ${inFlight} messages in flight, ${unsent} still to send`);
    const acknowledged = new Set(outbox.acknowledged);
    const there = new Set((await asked(readAll)).map(({ signal, ms }) => `${signal} ${ms}`));
    const missing = [...acknowledged].filter((i) => !there.has(`${SAMPLES[i]!.signal} ${SAMPLES[i]!.ms}`));
    expect(missing).toEqual([]);
    running = await startOnFolder();
  }
  await outbox.done;
  expect(landed).toBeGreaterThanOrEqual(KILLS - 1);
  expect(await asked(readAll)).toEqual(byTime(SAMPLES.map((sample) => ({ ...sample, quality: 0 }))));
  await inferred(running.url);
  const events = await asked(readEvents);
  expect(await running.child.stop()).toBe(0);
  expect(await embeddedUrl(folder)).toBeNull(); // stopped in order, the database's processes are gone too

  const other = await start({
    DATABASE_URL: undisturbed.url,
    DATA_DIR: join(folder, 'other'),
    MQTT_PORT: '0',
  });
  await putDocument(undisturbed.database, SITE, QUIET_SCHOOL);
  await sendFromOutbox(`mqtt://127.0.0.1:${other.mqttPort}`, messages).done;
  await inferred(other.url);
  expect(await other.child.stop()).toBe(0);
  const expected = await readEvents(undisturbed.database);
  console.log(`${expected.length} events`);
  expect(expected.length).toBeGreaterThan(500 * SHARE);
  expect(events).toEqual(expected);
});

/** Asks the database below the folder, which a killed process leaves running. */
async function asked<T>(question: (database: Database) => Promise<T>): Promise<T> {
  const database = openTestDatabase((await embeddedUrl(folder))!, 2);
  try {
    return await question(database);
  } finally {
    await database.close();
  }
}

interface Row {
  readonly signal: string;
  readonly ms: number;
  readonly value: number;
  readonly quality: number;
}

const READ = statement(
  'read-all',
  `select p.signal, (extract(epoch from s.t) * 1000)::bigint as ms, s.value, s.quality
   from samples s join points p on p.id = s.point_id where p.signal <> 'life' order by s.t, p.signal`,
);

const readAll = (database: Database): Promise<Row[]> => database.many<Row>(READ);

const byTime = (rows: Row[]): Row[] => rows.sort((a, b) => a.ms - b.ms || (a.signal < b.signal ? -1 : 1));

/** What contract section 4 compares: everything but revision, replaces and the time of inference. */
const readEvents = (database: Database): Promise<{ id: string; body: object }[]> =>
  database.many(
    statement(
      '',
      `select id, kind, cause, certainty, start_earliest, start_latest, end_latest, discriminator, body
       from events where withdrawn_at is null and kind <> 'telemetry-gap' order by kind, start_latest, id`,
    ),
  );

/** Nothing waits to be inferred any more: asked again until it is so, with a deadline. */
async function inferred(url: string): Promise<void> {
  const deadline = performance.now() + 180_000;
  while (performance.now() < deadline) {
    const answer = await fetch(`${url}api/inference?site=${SITE}`);
    const { pending } = (await answer.json()) as { pending: number };
    if (pending === 0) return;
    await delay(50);
  }
  throw new Error('inference didn’t come to its end');
}
