import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement, type Database } from '../../db/pool.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { putDocument } from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { embeddedUrl, stopLeftBehind } from '../fixtures/left-behind.ts';
import { freePort } from '../fixtures/mosquitto.ts';
import { sendFromOutbox, type OutboxMessage } from '../fixtures/outbox.ts';
import { openTestDatabase } from '../fixtures/postgres.ts';

/**
 * Broker, ingest and database started by one process, which is killed hard while a gateway with an outbox of its own sends
 * 20,000 messages. Its PUBACK is the gateway's only proof, so at every kill each acknowledged sample must already be there.
 */
const MESSAGES = 20_000;
const KILLS = 6;
/** Acknowledged messages between two kills. */
const EVERY = 2_000;
const FIRST_MS = Date.UTC(2026, 2, 2);
const SIGNALS = ['cooling-call', 'compressor-output', 'control-voltage'] as const;

const signalOf = (i: number) => SIGNALS[i % SIGNALS.length]!;
const valueOf = (i: number) => (signalOf(i) === 'control-voltage' ? 24 + (i % 7) / 10 : (i >> 2) & 1);
const MESSAGE_LIST: readonly OutboxMessage[] = Array.from({ length: MESSAGES }, (_, i) => ({
  topic: `holdoff/small-school/unit-1/${signalOf(i)}`,
  payload: JSON.stringify({ t: FIRST_MS + i * 10, v: valueOf(i) }),
}));

let folder: string;
let port: number;
let child: Child | null = null;
beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'holdoff-kill-'));
  await chmod(folder, 0o755);
  port = await freePort();
});
afterAll(async () => {
  await child?.kill();
  await stopLeftBehind(folder); // only where the test failed
  await rm(folder, { recursive: true, force: true });
});

test(`${MESSAGES} messages, ${KILLS} kills: whatever was acknowledged is in the database once`, async () => {
  const start = async () => {
    child = startChild('ingest/main.ts', { DATA_DIR: folder, MQTT_PORT: String(port) });
    await child.said('listening');
    return child;
  };
  let running = await start();
  await asked((database) => putDocument(database, 'small-school', SMALL_SCHOOL));
  const outbox = sendFromOutbox(`mqtt://127.0.0.1:${port}`, MESSAGE_LIST);
  let landed = 0;
  for (let kill = 1; kill <= KILLS; kill++) {
    await outbox.reaches(kill * EVERY);
    const { inFlight, unsent } = outbox;
    await running.kill();
    if (inFlight > 0 && unsent >= 5_000) landed++;
    console.log(`kill ${kill} landed: ${inFlight} messages in flight, ${unsent} still to send`);
    const acknowledged = new Set(outbox.acknowledged);
    const there = new Set(await asked(readPlaces));
    expect([...acknowledged].filter((place) => !there.has(place))).toEqual([]);
    running = await start();
  }
  await outbox.done;
  await asked(expectAllOnce);
  expect(await running.stop()).toBe(0);
  expect(landed).toBeGreaterThanOrEqual(5);
  expect(await embeddedUrl(folder)).toBeNull(); // stopped in order, the database's processes are gone too
}, 120_000);

/** Asks the database below the folder, which a killed process leaves running. */
async function asked<T>(question: (database: Database) => Promise<T>): Promise<T> {
  const database = openTestDatabase((await embeddedUrl(folder))!, 2);
  try {
    return await question(database);
  } finally {
    await database.close();
  }
}

const READ = statement(
  'read-all',
  `select p.signal, (extract(epoch from s.t) * 1000)::bigint as ms, s.value, s.quality
   from samples s join points p on p.id = s.point_id where p.signal <> 'life' order by s.t`,
);

interface Row {
  readonly signal: string;
  readonly ms: number;
  readonly value: number;
  readonly quality: number;
}

const readPlaces = async (database: Database): Promise<number[]> =>
  (await database.many<Row>(READ)).map(({ ms }) => (ms - FIRST_MS) / 10);

async function expectAllOnce(database: Database): Promise<void> {
  const rows = await database.many<Row>(READ);
  expect(rows).toHaveLength(MESSAGES);
  const wrong = rows.filter(
    (row, i) =>
      row.ms !== FIRST_MS + i * 10 ||
      row.signal !== signalOf(i) ||
      row.value !== valueOf(i) ||
      row.quality !== 0,
  );
  expect(wrong).toEqual([]);
  const { count } = await database.one<{ count: number }>(statement('', 'select count(*) from rejected'));
  expect(count).toBe(0);
}
