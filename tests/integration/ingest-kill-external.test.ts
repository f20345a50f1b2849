import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import type { MqttClient } from 'mqtt';
import { listen } from '../../db/follow-listen.ts';
import { statement, type Database } from '../../db/pool.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { connectClient, putDocument, readRejected } from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

/**
 * Ingest as a process of its own, killed hard while 50,000 QoS 1 messages pass through a real broker with a durable
 * session. A gateway whose message the broker took must find it in the database, once, whatever happens to ingest.
 */
const MESSAGES = 50_000;
const KILLS = 6;
/** Committed rows between two kills. */
const EVERY = 6_000;
/** Messages published ahead of what is committed: that many are in flight or queued when a kill lands. */
const AHEAD = 3_000;
/** Messages that a kill should find under way. */
const HIT = 100;
const SIGNALS = ['cooling-call', 'compressor-output', 'control-voltage'] as const;
const FIRST_MS = Date.UTC(2026, 2, 2);

const signalOf = (i: number) => SIGNALS[i % SIGNALS.length]!;
const valueOf = (i: number) => (signalOf(i) === 'control-voltage' ? 24 + (i % 7) / 10 : (i >> 2) & 1);

describe.skipIf(MOSQUITTO_IS_MISSING)('ingest is killed while an external broker delivers', () => {
  let store: FreshDatabase;
  let broker: Mosquitto;
  let gateway: MqttClient;
  beforeAll(async () => {
    store = await freshDatabase();
    await putDocument(store.database, 'small-school', SMALL_SCHOOL);
    // the broker lives on: what it would save to its disk after each message is not this test's
    broker = await startMosquitto({ autosave_on_changes: 'false', autosave_interval: '1800' });
    gateway = await connectClient(broker.url);
  });
  afterAll(async () => {
    await gateway.endAsync(true);
    await broker.stop();
    await store.drop();
  });

  test(`${MESSAGES} messages, ${KILLS} kills: each is in the database once`, async () => {
    const start = () =>
      startChild('ingest/main.ts', {
        DATABASE_URL: store.url,
        MQTT_URL: broker.url,
        INGEST_ID: 'killed-ingest',
      });
    const committed = watchCount(store);
    let child: Child = start();
    await child.said('caught-up'); // the durable session is there before the first message
    const publishing = publishAll(gateway, committed);
    let landed = 0;
    for (let kill = 1; kill <= KILLS; kill++) {
      await committed.reaches(kill * EVERY);
      const inFlight = await publishing.isUnderWay();
      const left = MESSAGES - publishing.published;
      await child.kill();
      if (inFlight > 0 && left >= 5_000) landed++;
      console.log(`kill ${kill} landed: ${inFlight} messages in flight, ${left} still to send`);
      child = start();
    }
    await publishing.done;
    await committed.reaches(MESSAGES);
    expect(await child.stop()).toBe(0);
    await committed.stop();
    expect(landed).toBeGreaterThanOrEqual(5);
    await expectAllOnce(store.database);
    expect(await readRejected(store.database)).toEqual([]);
  });
});

/** The number of committed samples, read whenever a commit is announced. */
function watchCount({ database, url }: FreshDatabase) {
  const text = `select count(*) as count from samples s join points p on p.id = s.point_id where p.signal <> 'life'`;
  const read = async () => (await database.one<{ count: number }>(statement('count-samples', text))).count;
  const waiting = new Set<() => void>();
  let last = 0;
  let reading = false;
  const look = async () => {
    if (reading) return;
    reading = true;
    last = await read();
    reading = false;
    for (const one of [...waiting]) one();
  };
  const listener = listen(url, ['holdoff_committed'], () => void look());
  return {
    get last() {
      return last;
    },
    read,
    reaches: (count: number) =>
      new Promise<void>((done) => {
        const one = () => {
          if (last < count) return;
          waiting.delete(one);
          done();
        };
        waiting.add(one);
        void look();
      }),
    stop: () => listener.close(),
  };
}

type Committed = ReturnType<typeof watchCount>;

/** Publishes all, never more than AHEAD beyond what is committed. */
function publishAll(gateway: MqttClient, committed: Committed) {
  const state = {
    published: 0,
    done: Promise.resolve(),
    /** how many messages are on their way, asked until there are enough for a kill to hit */
    isUnderWay: async () => {
      for (;;) {
        const inFlight = state.published - (await committed.read());
        if (inFlight >= HIT || state.published === MESSAGES) return inFlight;
      }
    },
  };
  state.done = (async () => {
    const unanswered = new Set<Promise<unknown>>();
    for (let i = 0; i < MESSAGES; i++) {
      if (i >= committed.last + AHEAD) await committed.reaches(i - AHEAD + 500);
      const topic = `holdoff/small-school/unit-1/${signalOf(i)}`;
      const payload = JSON.stringify({ t: FIRST_MS + i * 10, v: valueOf(i) });
      const answered: Promise<unknown> = gateway
        .publishAsync(topic, payload, { qos: 1 })
        .then(() => unanswered.delete(answered));
      unanswered.add(answered);
      if (unanswered.size >= 1_000) await Promise.race(unanswered);
      state.published = i + 1;
    }
    await Promise.all(unanswered);
  })();
  return state;
}

async function expectAllOnce(database: Database): Promise<void> {
  const rows = await database.many<{ signal: string; ms: number; value: number; quality: number }>(
    statement(
      '',
      `select p.signal, (extract(epoch from s.t) * 1000)::bigint as ms, s.value, s.quality
       from samples s join points p on p.id = s.point_id where p.signal <> 'life' order by s.t`,
    ),
  );
  expect(rows).toHaveLength(MESSAGES);
  const wrong = rows.filter(
    (row, i) =>
      row.ms !== FIRST_MS + i * 10 ||
      row.signal !== signalOf(i) ||
      row.value !== valueOf(i) ||
      row.quality !== 0,
  );
  expect(wrong).toEqual([]);
}
