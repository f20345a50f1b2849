import type { MqttClient } from 'mqtt';
import { afterAll, afterEach, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { readClaimedClocks } from '../../db/follow-work.ts';
import { readIngests } from '../../db/ingests.ts';
import { statement } from '../../db/pool.ts';
import { readLastMark, readWatch } from '../../db/watch-marks.ts';
import { ingestsPart } from '../../server/ingests-part.ts';
import { startEdge } from '../fixtures/edge.ts';
import {
  connectClient,
  putDocument,
  readSamples,
  startTestIngest,
  wallClock,
  type TestIngest,
} from '../fixtures/ingest.ts';
import { MAPPED_SCHOOL } from '../fixtures/mapped-school.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { until } from '../fixtures/until.ts';

/**
 * Several ingests that share the messages of one group at a real Mosquitto (architecture 6): each message goes to one of them,
 * and what any of them has heard counts when all have committed what they had received by then.
 */
/** each test has its own: sessions that are kept go on sharing */
let group = 'line-0';
const CALL = 'holdoff/small-school/unit-1/cooling-call';
const HEARTBEAT = 'holdoff/small-school/gateway/heartbeat';
const FIRST_MS = Date.UTC(2026, 2, 2);

let store: FreshDatabase;
let broker: Mosquitto;
let gateway: MqttClient;
const running = new Set<{ stop(): Promise<void> }>();

const kept = <T extends { stop(): Promise<void> }>(one: T): T => {
  running.add(one);
  return one;
};
const start = async (id: string, more: { brokerUrl?: string; group?: string } = {}): Promise<TestIngest> => {
  const ingest = kept(
    await startTestIngest({ databaseUrl: store.url, brokerUrl: broker.url, group, id, ...more }),
  );
  await ingest.seen('caught-up');
  return ingest;
};
const stop = async (one: { stop(): Promise<void> }): Promise<void> => {
  running.delete(one);
  await one.stop();
};

/** It has subscribed to what points name: as it connected, or, where it read the configuration only then, afterwards. */
async function listens(ingest: TestIngest): Promise<void> {
  await ingest.seen('configuration-read');
  const kinds = ingest.observations.map(({ kind }) => kind);
  if (kinds.indexOf('configuration-read') > kinds.indexOf('broker-connected'))
    await ingest.seen('listening-to');
}

const publish = (topic: string, payload: unknown) =>
  gateway.publishAsync(topic, typeof payload === 'string' ? payload : JSON.stringify(payload), { qos: 1 });
const samplesOf = async (key: string) => (await readSamples(store.database)).filter((row) => row.key === key);
const messagesIn = (ingest: TestIngest): number =>
  ingest.observations.reduce((sum, one) => sum + (one.kind === 'committed' ? one.messages : 0), 0);
const counted = async () => (await readClaimedClocks(store.database)).lives[0]?.t ?? null;
const ids = async () => (await readIngests(store.database)).map(({ id }) => id);
const at = (seconds: number): number => (FIRST_MS + seconds * 1_000) * 1_000;

describe.skipIf(MOSQUITTO_IS_MISSING)('ingests that share', () => {
  beforeAll(async () => {
    store = await freshDatabase();
    broker = await startMosquitto({ autosave_on_changes: 'false', autosave_interval: '1800' });
    gateway = await connectClient(broker.url);
  });
  let tests = 0;
  beforeEach(async () => {
    group = `line-${++tests}`;
    await putDocument(store.database, 'small-school', SMALL_SCHOOL);
    for (const table of ['samples', 'gateway_lives', 'ingests', 'watch_marks', 'watch_gaps', 'leases'])
      await store.database.run(statement('', `delete from ${table}`));
  });
  afterEach(async () => {
    for (const one of running) await one.stop();
    running.clear();
  });
  afterAll(async () => {
    await gateway.endAsync(true);
    await broker.stop();
    await store.drop();
  });

  test('each message goes to one of them: the root’s topics, those that points name, and heartbeats', async () => {
    await putDocument(store.database, 'small-school', MAPPED_SCHOOL);
    const both = [await start('share-1'), await start('share-2')];
    for (const one of both) await listens(one);
    const sent: Promise<unknown>[] = [];
    for (let i = 0; i < 200; i++) {
      const ts = FIRST_MS + i * 1_000;
      sent.push(publish('plant/7/ahu/2/di', { ts, inputs: [0, 0, 0, { state: i & 1 }, { state: 0 }] }));
      sent.push(publish('plant/7/fan', { t: ts, v: 1 }));
      sent.push(publish(HEARTBEAT, { t: ts }));
    }
    await Promise.all(sent);
    await until(
      () => samplesOf('small-school/unit-1/cooling-call'),
      (rows) => rows.length === 200,
    );
    await until(
      async () => both.reduce((sum, one) => sum + messagesIn(one), 0),
      (count) => count === 600,
    );
    for (const one of both) expect(messagesIn(one)).toBeGreaterThan(100);
    // with nothing more to come, the last life counts once both have said that they are through
    await until(counted, (t) => t === at(199));
    await both[0]!.leave();
    await both[1]!.leave();
    running.clear();
  });

  test('one that is away holds what counts and what was watched, and is named; back again, it lets go', async () => {
    const [first, second] = [await start('hold-1'), await start('hold-2')];
    for (let i = 0; i < 20; i++) await publish(CALL, { t: FIRST_MS + i * 1_000, v: i & 1 });
    await until(counted, (t) => t === at(19));
    expect(ingestsPart(await readIngests(store.database))).toMatchObject([{ ok: true }]);
    await stop(second); // in order, so its session stays, and so does its place
    const through = (await readIngests(store.database)).find(({ id }) => id === 'hold-2')!.committedThrough;
    for (let i = 20; i < 60; i++) await publish(CALL, { t: FIRST_MS + i * 1_000, v: i & 1 });
    await publish(HEARTBEAT, { t: FIRST_MS + 60_000 });
    const before = messagesIn(first);
    await until(
      async () =>
        messagesIn(first) > before || (await samplesOf('small-school/unit-1/cooling-call')).length > 20,
      Boolean,
    );
    const marks = first.observations.length;
    await first.seen('committed', (one) => first.observations.indexOf(one) > marks + 3); // marks of it alone
    expect(await counted()).toBe(at(19));
    expect(await readLastMark(store.database)).toBe(through);
    expect((await samplesOf('small-school/unit-1/cooling-call')).length).toBeLessThan(60);
    const [part] = ingestsPart(
      (await readIngests(store.database)).map((one) => ({
        ...one,
        silentSeconds: one.id === 'hold-2' ? 16 : one.silentSeconds,
      })),
    );
    expect(part).toMatchObject({ ok: false });
    expect(part!.says).toMatch(/^hold-2 is away, and nothing after .* is certain/);
    await start('hold-2');
    await until(counted, (t) => t! >= at(59));
    expect(await samplesOf('small-school/unit-1/cooling-call')).toHaveLength(60);
    // what it held while it was away was watched by the other
    await until(
      async () => (await readWatch(store.database, -Infinity)).spans,
      (spans) => spans.length === 1 && spans[0]!.to > through + 1_000_000,
    );
  });

  test('one that leaves takes what its session holds, and nobody waits for it any more', async () => {
    const [first, second] = [await start('leave-1'), await start('leave-2')];
    await stop(second);
    for (let i = 0; i < 40; i++) await publish(CALL, { t: FIRST_MS + i * 1_000, v: i & 1 });
    const again = await start('leave-2');
    await again.leave();
    running.delete(again);
    expect(await ids()).toEqual(['leave-1']);
    await until(counted, (t) => t === at(39));
    for (let i = 40; i < 60; i++) await publish(CALL, { t: FIRST_MS + i * 1_000, v: i & 1 });
    await until(counted, (t) => t === at(59)); // a single one: at once
    expect(await samplesOf('small-school/unit-1/cooling-call')).toHaveLength(60);
    // its session is gone: whoever comes with its name begins anew
    const anew = await start('leave-2');
    expect((await anew.seen('broker-connected')).sessionPresent).toBe(false);
    expect(anew.observations.some(({ kind }) => kind === 'session-lost')).toBe(false);
    await first.leave();
    await anew.leave();
    running.clear();
  });

  test('where its session at the broker is gone, what waited there is missing, and that time isn’t watched', async () => {
    const [first, second] = [await start('lost-1'), await start('lost-2')];
    await until(
      async () => (await readIngests(store.database)).length,
      (count) => count === 2,
    );
    await stop(second);
    const stranger = await connectClient(broker.url, { clientId: 'lost-2', clean: true });
    await stranger.endAsync(); // as a broker that has lost its store
    const lostBy = wallClock();
    const again = await start('lost-2');
    await again.seen('session-lost');
    const spans = await until(
      async () => (await readWatch(store.database, -Infinity)).spans,
      (all) => (all.at(-1)?.to ?? 0) > lostBy + 500_000,
    );
    expect(spans.some(({ from, to }) => from <= lostBy && to >= lostBy)).toBe(false);
    expect(spans.length).toBeGreaterThan(1);
    await again.leave();
    await first.leave();
    running.clear();
  });

  test('whoever belongs to a group isn’t started without it, nor in another', async () => {
    await stop(await start('member'));
    const started = (other?: string) =>
      startTestIngest({
        databaseUrl: store.url,
        brokerUrl: broker.url,
        id: 'member',
        ...(other ? { group: other } : {}),
      });
    await expect(started()).rejects.toThrow(`belongs to the group “${group}”`);
    await expect(started('other')).rejects.toThrow(`INGEST_GROUP=${group}`);
    await (await start('member')).leave();
    running.clear();
    await (await started()).stop();
  });

  describe('with Sparkplug', () => {
    const SPARKPLUG = {
      ...SMALL_SCHOOL,
      units: [
        {
          ...SMALL_SCHOOL.units[0]!,
          points: [{ signal: 'cooling-call', sparkplug: 'school/edge-1/unit-1/call' }],
        },
      ],
    };
    const births = {
      node: [],
      devices: { 'unit-1': [{ name: 'call', type: 'Boolean' as const, value: true }] },
    };
    const hosts = (all: readonly TestIngest[]) =>
      all.filter((one) => {
        const said = one.observations.filter(({ kind }) => kind === 'host-state').at(-1);
        return said?.kind === 'host-state' && said.online;
      });

    test('one of them is the host application; when it goes, another takes over and asks for births', async () => {
      await putDocument(store.database, 'small-school', SPARKPLUG);
      const both = [await start('host-1'), await start('host-2')];
      await until(
        async () => hosts(both).length,
        (count) => count === 1,
      );
      const edge = startEdge(broker.url, births);
      await until(
        () => samplesOf('small-school/unit-1/cooling-call'),
        (rows) => rows.some(({ value }) => value === 1),
      );
      expect(hosts(both)).toHaveLength(1);
      const [host] = hosts(both);
      const other = both.find((one) => one !== host)!;
      edge.births = { node: [], devices: { 'unit-1': [{ name: 'call', type: 'Boolean', value: false }] } };
      await stop(host!);
      await other.seen('rebirth-asked');
      await until(
        () => samplesOf('small-school/unit-1/cooling-call'),
        (rows) => rows.at(-1)?.value === 0,
      );
      edge.stop();
    });

    test('while the host’s own connection is down, nothing is watched', async () => {
      await putDocument(store.database, 'small-school', SPARKPLUG);
      const alone = await start('alone');
      await alone.seen('host-state', ({ online }) => online);
      await until(
        async () => (await readWatch(store.database, -Infinity)).spans.length,
        (count) => count > 0,
      );
      // somebody takes the host's client id over and keeps it: its main connection stands
      const thief = await connectClient(broker.url, { clientId: 'alone-sparkplug', reconnectPeriod: 20 });
      await alone.seen('host-state', ({ online }) => !online);
      const downAt = wallClock();
      const offline = () => alone.observations.filter((one) => one.kind === 'committed').length;
      const before = offline();
      await until(
        async () => offline(),
        (count) => count > before + 2,
      );
      await thief.endAsync(true);
      await until(
        async () => hosts([alone]).length,
        (count) => count === 1,
      );
      const upAt = wallClock();
      const spans = await until(
        async () => (await readWatch(store.database, -Infinity)).spans,
        (all) => (all.at(-1)?.to ?? 0) > upAt,
      );
      expect(spans.some(({ from, to }) => from <= downAt && to >= upAt)).toBe(false);
    });
  });
});
