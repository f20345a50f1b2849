import { setTimeout as delay } from 'node:timers/promises';
import type { MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { readWatch } from '../../db/watch-marks.ts';
import { FaultLine } from '../fixtures/fault-line.ts';
import { until } from '../fixtures/until.ts';
import { caughtUp } from '../fixtures/follow-store.ts';
import { connectClient, startTestIngest } from '../fixtures/ingest.ts';
import { MOSQUITTO_IS_MISSING } from '../fixtures/mosquitto.ts';
import { unitSamples } from '../fixtures/unit-week.ts';
import { foldedOnce, SITE } from '../fixtures/whole-line.ts';

/**
 * One line, with real parts, through one fault after the other: whatever the broker has acknowledged is stored once; what
 * waits is bounded; readiness tells the truth meanwhile; nobody has to do anything; and in the end the events are those of the
 * record folded once. The database is away for FAULT_SECONDS (600 is ten minutes; a second in an ordinary run); from a
 * minute on the other faults are ten times as large, and the bound of bytes is that which ships.
 */
const AWAY_SECONDS = Number(process.env['FAULT_SECONDS'] ?? 1);
const IS_LONG = AWAY_SECONDS >= 60;
const EACH = 400;
const PHASES = 9;
const SAMPLES = unitSamples(EACH * PHASES);
const HIGH_WATER = 300;
const HIGH_WATER_BYTES = IS_LONG ? 64 * 1024 * 1024 : 2_000_000;
/** bytes of a message; so many are past the bound of bytes and not past that of messages */
const LARGE = 500_000;
const LARGE_COUNT = IS_LONG ? 160 : 6;
const REJECTS = IS_LONG ? 10_000 : 500;
const HOUR = 3_600_000_000;

/** ms, for the first of them: the time away, and what else takes minutes on a busy machine */
const LONGEST_MS = (AWAY_SECONDS + 600) * 1_000;

/** As it ships it writes its whole store at each change: with 80 MB in it that takes longer than the fault. */
const SAVES_EACH_SECOND = { autosave_on_changes: 'false', autosave_interval: '1' };

let line: FaultLine;

describe.skipIf(MOSQUITTO_IS_MISSING)('a line through faults', () => {
  beforeAll(async () => {
    line = await FaultLine.start({
      samples: SAMPLES,
      highWater: HIGH_WATER,
      highWaterBytes: HIGH_WATER_BYTES,
      ...(IS_LONG ? { broker: SAVES_EACH_SECOND } : {}),
    });
  });
  afterAll(() => line?.stop());

  test(
    `the database is away for ${AWAY_SECONDS} s: what waits is bounded by count, the rest waits at the broker`,
    async () => {
      const before = line.ingest.observations.length;
      line.postgres.proxy.shut();
      await line.send(EACH).done;
      await line.since(before, 'commit-delayed');
      await line.since(before, 'held-back');
      expect(line.mostInFlight(before).messages).toBe(HIGH_WATER);
      await line.partIs('database', false);
      expect((await line.readReady()).ready).toBe(false);
      await line.partIs('ingest', false);
      await delay(AWAY_SECONDS * 1_000); // what is tested is that so much time passes
      expect(line.ingest.load.messages).toBe(HIGH_WATER);
      expect((await line.readCount()).stored).toBeLessThan(line.sent);
      line.postgres.proxy.open();
      await line.recovered('database away');
    },
    LONGEST_MS,
  );

  test('the database’s processes die in the middle of a batch', async () => {
    const outbox = line.send(EACH);
    await outbox.reaches(EACH / 2);
    await line.postgres.restart();
    await outbox.done;
    await line.recovered('database restarted');
  });

  test('its disk is full', async (context) => {
    const { disk } = line.postgres;
    if (!disk) return context.skip('this account can’t mount a disk of its own');
    const before = line.ingest.observations.length;
    await disk.fill();
    await line.send(EACH).done;
    // a table grows only now and then: what is set aside needs room at once
    await line.sendJunk(40, 1_000).done;
    await line.since(before, 'commit-delayed');
    await line.partIs('ingest', false);
    const error = line.ingest.observations.slice(before).find((one) => one.kind === 'commit-delayed');
    console.log(`disk full: ${error?.kind === 'commit-delayed' ? error.error.message : ''}`);
    await disk.empty();
    await line.recovered('disk full');
  });

  test('its disk is slow: everything comes late, nothing is refused, and it counts as ready', async () => {
    const before = line.ingest.observations.length;
    line.postgres.proxy.delayMs = 100;
    await line.send(EACH).done;
    await line.since(before, 'committed');
    const { parts } = await line.readReady();
    expect(parts.filter(({ name }) => name === 'ingest' || name === 'broker').every(({ ok }) => ok)).toBe(
      true,
    );
    await until(
      () => line.readCount(),
      ({ stored }) => stored === line.sent,
    );
    line.postgres.proxy.delayMs = 0;
    const told = line.ingest.observations.slice(before);
    expect(told.filter(({ kind }) => kind === 'commit-delayed')).toEqual([]);
    expect(line.mostInFlight(before).messages).toBeLessThanOrEqual(HIGH_WATER);
    await line.recovered('slow disk');
  });

  test('the broker goes, and comes back', async () => {
    const outbox = line.send(EACH);
    await outbox.reaches(EACH / 4);
    await line.broker.end();
    await line.partIs('broker', false);
    await line.broker.restart();
    await outbox.done;
    await line.recovered('broker away');
  });

  test('the broker is killed with a backlog, while the database is away as well', async () => {
    const before = line.ingest.observations.length;
    line.postgres.proxy.shut();
    await line.send(EACH).done;
    await line.since(before, 'held-back');
    await line.broker.saved();
    await line.broker.kill();
    await line.partIs('broker', false);
    await line.broker.restart();
    line.postgres.proxy.open();
    await line.recovered('broker killed with a backlog');
  });

  test('large messages: what waits is bounded by bytes, with one message more', async () => {
    const before = line.ingest.observations.length;
    line.postgres.proxy.shut();
    await line.sendJunk(LARGE_COUNT, LARGE).done;
    await line.since(before, 'held-back');
    const { bytes, messages } = line.mostInFlight(before);
    console.log(`large messages: at most ${bytes} bytes in ${messages} messages are in flight`);
    expect(bytes).toBeGreaterThanOrEqual(HIGH_WATER_BYTES);
    expect(bytes).toBeLessThanOrEqual(HIGH_WATER_BYTES + LARGE);
    expect(line.ingest.load.bytes).toBe(bytes);
    const sending = line.send(EACH);
    line.postgres.proxy.open();
    await sending.done;
    await line.recovered('large messages');
  });

  test('a flood of what can’t be taken: each is set aside, and nothing else is lost by it', async () => {
    const { count: before } = await readRejected();
    const [good, bad] = [line.send(EACH), line.sendJunk(REJECTS, 100)];
    await Promise.all([good.done, bad.done]);
    await until(readRejected, ({ count }) => count === before + REJECTS);
    await line.recovered(`flood of ${REJECTS} rejects`);
  });

  test('clocks of ingest and server are set ahead and back: no time counts as watched that hasn’t passed', async () => {
    const watched = async () => (await line.postgres.ask((database) => readWatch(database, -Infinity))).spans;
    const sum = async () => (await watched()).reduce((whole, { from, to }) => whole + (to - from), 0);
    const marked = (at: number) => (spans: readonly { readonly to: number }[]) =>
      spans.some(({ to }) => to > at);
    const [began, at] = [performance.now(), Date.now() * 1_000];
    await until(watched, marked(at)); // what was listened to before is claimed
    const before = await sum();
    const outbox = line.send(EACH);
    for (const [i, hours] of [1, -2, 3, 0].entries()) {
      line.off.ingest = line.off.server = hours * HOUR;
      await outbox.reaches((EACH / 4) * (i + 1));
      if (hours > 0) await until(watched, marked(Date.now() * 1_000 + (hours - 0.5) * HOUR));
      await line.readReady();
    }
    await outbox.done;
    await line.recovered('clock steps');
    const claimed = ((await sum()) - before) / 1_000;
    const passed = performance.now() - began;
    console.log(
      `clock steps: ${Math.round(claimed)} ms count as watched of ${Math.round(passed)} that passed`,
    );
    expect(claimed).toBeLessThan(passed + 100); // two clocks
  });

  test('and the events are those of the record folded once', async () => {
    const once = foldedOnce(SAMPLES.slice(0, line.sent));
    const events = await line.postgres.ask((database) => caughtUp(database, SITE));
    const told = events.filter(({ kind }) => kind !== 'telemetry-gap'); // when we listened is another matter
    expect(told).toEqual(once.filter(({ kind }) => kind !== 'telemetry-gap'));
    expect(told.length).toBeGreaterThan(40);
    console.log(`${told.length} events, as of an undisturbed run`);
  });

  test('one gateway sends a hundred times its share to the embedded broker: the others wait for three windows of it at most', async () => {
    const own = await startTestIngest({ databaseUrl: line.postgres.url, id: 'flooded' });
    const { stored: before } = await line.readCount();
    const [flood, ...others] = await Promise.all(Array.from({ length: 11 }, () => connectClient(own.url)));
    const { flooded, waited } = await floodBeside(flood!, others);
    const { stored } = await line.readCount();
    console.log(
      `one floods: ${flooded} messages of it beside ${SHARE} of each of ten others, of which none waited for more than ${Math.max(...waited)}`,
    );
    expect(stored - before).toBe(flooded + SHARE * others.length);
    expect(flooded).toBeGreaterThanOrEqual(100 * SHARE);
    expect(Math.max(...waited)).toBeLessThanOrEqual(3 * WINDOW);
    for (const client of [flood!, ...others]) await client.endAsync();
    await own.stop();
  });
});

const readRejected = () =>
  line.postgres.ask((database) =>
    database.one<{ count: number }>(statement('', 'select count(*)::int as count from rejected')),
  );

/** messages of the flood that are on their way at one time */
const WINDOW = 100;
/** messages of each other gateway; the flood is a hundred times as many */
const SHARE = 10;

/**
 * How many messages of the flood were acknowledged while one of the others waited for its own. Three windows bound it by the
 * way that it works, whatever the machine's speed: what was acknowledged and not counted yet when it was sent, what was being
 * written then, and what is written beside it.
 */
async function floodBeside(flood: MqttClient, others: readonly MqttClient[]) {
  const topic = `holdoff/${SITE}/unit-1/control-voltage`;
  let placed = Date.UTC(2026, 4, 4);
  const publish = (client: MqttClient) =>
    client.publishAsync(topic, JSON.stringify({ t: placed++, v: 26 }), { qos: 1 });
  let flooded = 0;
  let isOver = false;
  const flooding = Array.from({ length: WINDOW }, async () => {
    while (!isOver || flooded < 100 * SHARE) {
      await publish(flood);
      flooded++;
    }
  });
  const waited: number[] = [];
  const sending = others.map(async (one) => {
    for (let i = 0; i < SHARE; i++) {
      const at = flooded;
      await publish(one);
      waited.push(flooded - at);
    }
  });
  await Promise.all(sending);
  isOver = true;
  await Promise.all(flooding);
  return { flooded, waited };
}
