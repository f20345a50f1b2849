import { once } from 'node:events';
import { mkdtemp, readFile, rm, writeFile } from 'node:fs/promises';
import { connect as connectTcp, createServer, type AddressInfo, type Socket } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, beforeEach, describe, expect, it } from 'vitest';
import { statement } from '../../db/pool.ts';
import { startIngest } from '../../ingest/start.ts';
import { startDemo, type Demo } from '../../server/demo/demo.ts';
import { Demonstration } from '../../server/demonstration.ts';
import { simulate } from '../../server/demo/simulate-scenario.ts';
import { readArguments } from '../../server/demo/simulate-arguments.ts';
import { buildingsAt } from '../../shared/building/scenarios/list.ts';
import { SECOND } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { runBuilding } from '../fixtures/building-run.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';

/** The demonstration and the scenarios against a real broker, seen by a subscriber. */
const HISTORY_SECONDS = 3 * 3600;

class Listener {
  readonly samples = new Map<string, number>();
  readonly conflicts: string[] = [];
  readonly clients = new Set<string>();
  newest = 0;
  lives = 0;
  #client: MqttClient | null = null;

  async listen(url: string): Promise<void> {
    this.#client = await connectAsync(url, { clientId: 'listener' });
    this.#client.on('message', (topic, payload) => this.#take(topic, payload.toString()));
    await this.#client.subscribeAsync('holdoff/#', { qos: 1 });
  }

  async end(): Promise<void> {
    await this.#client?.endAsync(true);
  }

  #take(topic: string, text: string): void {
    const [, site, device, last] = topic.split('/');
    if (last === 'heartbeat') {
      this.lives++;
      return;
    }
    type Told = { t: number; signals: { [signal: string]: number } };
    const parsed = JSON.parse(text) as Told | Told[];
    for (const { t, signals } of Array.isArray(parsed) ? parsed : [parsed]) {
      this.newest = Math.max(this.newest, t * 1000);
      for (const [signal, value] of Object.entries(signals)) {
        const key = `${site} ${device} ${signal} ${t}`;
        if ((this.samples.get(key) ?? value) !== value) this.conflicts.push(key);
        this.samples.set(key, value);
      }
    }
  }

  /** `{t, value}` of one point, in time order */
  of(point: string): { t: number; value: number }[] {
    return [...this.samples]
      .filter(([key]) => key.startsWith(`${point} `))
      .map(([key, value]) => ({ t: Number(key.split(' ')[3]) * 1000, value }))
      .sort((a, b) => a.t - b.t);
  }
}

async function until(holds: () => boolean, what: string, within = 120_000): Promise<void> {
  const end = Date.now() + within;
  while (!holds()) {
    if (Date.now() > end) throw new Error(`not within ${within} ms: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 20));
  }
}

describe.skipIf(MOSQUITTO_IS_MISSING)('simulated gateways at a real broker', () => {
  let broker: Mosquitto;
  let folder: string;
  let listener: Listener;
  /** a clock that the test moves */
  let now = Date.UTC(2026, 7, 26, 12) * 1000;
  const put: string[] = [];
  const begin = (): Promise<Demo> =>
    startDemo({
      brokerUrl: broker.url,
      putSite: (id) => {
        const isNew = !put.includes(id);
        put.push(id);
        return Promise.resolve({ isNew });
      },
      notesFile: join(folder, 'demo.json'),
      now: () => now,
      historySeconds: HISTORY_SECONDS,
    });

  beforeAll(async () => {
    broker = await startMosquitto({ max_queued_messages: '0' });
  });
  afterAll(() => broker.stop());
  beforeEach(async () => {
    put.length = 0;
    folder = await mkdtemp(join(tmpdir(), 'holdoff-demo-'));
    listener = new Listener();
    await listener.listen(broker.url);
    return async () => {
      await listener.end();
      await rm(folder, { recursive: true, force: true });
    };
  });

  it('tell the past, go live, and go on after a pause as if there had been none', async () => {
    const first = await begin();
    await first.historyDone;
    expect(put.slice(0, 2)).toEqual(['harrow-lane', 'pine-ridge']);
    await until(() => listener.newest > now - 10 * SECOND, 'the past is told');
    const before = listener.samples.size;
    expect(before).toBeGreaterThan(3000);

    now += 120 * SECOND;
    await until(() => listener.newest > now - 10 * SECOND, 'what is new is told live');
    expect(listener.samples.size).toBeGreaterThan(before);
    await first.stop();

    now += 600 * SECOND;
    const second = await begin();
    await second.historyDone;
    await until(() => listener.newest > now - 10 * SECOND, 'the pause is filled');
    await second.stop();

    expect(listener.conflicts).toEqual([]);
    const polled = listener.of('pine-ridge unit-1 control-voltage');
    for (let i = 1; i < polled.length; i++) expect(polled[i]!.t - polled[i - 1]!.t).toBe(10 * SECOND);
  });

  it('never tell the past twice in two ways when the notes of it are of no use', async () => {
    const first = await begin();
    await first.historyDone;
    await first.stop();
    const notes = join(folder, 'demo.json');
    await writeFile(notes, (await readFile(notes, 'utf8')).replace(/"edition":"\w+"/, '"edition":"older"'));
    const told = listener.newest;
    now += 300 * SECOND;
    const second = await begin();
    await second.historyDone;
    await until(() => listener.newest > now - 10 * SECOND, 'the pause is filled');
    await second.stop();
    expect(listener.conflicts).toEqual([]);
    const after = [...listener.samples.keys()].map((key) => Number(key.split(' ')[3]) * 1000);
    expect(after.some((t) => t > told + 60 * SECOND)).toBe(true);
  });

  it('show within two minutes of going live a hard lockout, a soft one, and a restart on both panels', async () => {
    const demo = await begin();
    await demo.historyDone;
    const live = now;
    for (let i = 0; i < 130; i++) {
      now += SECOND;
      await until(() => demo.acknowledged() > 0, 'alive');
    }
    await until(() => listener.newest > now - 6 * SECOND, 'two minutes are told');
    await demo.stop();

    const within = (point: string, value: number): number[] =>
      listener
        .of(point)
        .filter((sample) => sample.t > live && sample.value === value)
        .map(({ t }) => t);
    expect(within('pine-ridge unit-2 lockout-alarm', 1)).toHaveLength(1);
    expect(within('harrow-lane unit-2 high-pressure', 0)).toHaveLength(1);
    expect(within('harrow-lane unit-2 compressor-output', 0)).toHaveLength(1);
    const start = (n: number): number => within(`harrow-lane unit-${n} compressor-output`, 1)[0]!;
    for (const [one, next] of [
      [1, 2],
      [2, 3],
      [3, 4],
    ] as const)
      expect(start(next) - start(one)).toBeGreaterThan(2.5 * SECOND);
    expect(Math.abs(start(7) - start(6))).toBeLessThan(0.5 * SECOND);
  });

  it('lose nothing when their connections are cut again and again', async () => {
    const line = await cuttableLine(broker.port);
    const asked = ['utility-outage', '--speed', 'max', '--broker', `mqtt://127.0.0.1:${line.port}`];
    const read = readArguments(asked, now);
    if (!read.ok) throw new Error(read.help);
    const heard: string[] = [];
    const running = simulate(
      read.value,
      () => now,
      new AbortController().signal,
      (said) => heard.push(said),
    );
    let severed = 0;
    for (const share of [50, 300, 600, 900]) {
      await until(() => listener.samples.size > share, `${share} samples are told`);
      severed += line.cut();
    }
    const report = await running;
    line.close();
    const [each] = buildingsAt(read.value.scenario, read.value.start);
    const expected = runBuilding(each!, read.value.seconds, read.value.start).entries.flatMap((entry) =>
      Object.keys(entry.signals).map((signal) => `harrow-lane ${entry.device} ${signal} ${entry.t / 1000}`),
    );
    await until(() => listener.samples.size >= expected.length, 'all of it is heard');
    expect([...listener.samples.keys()].sort()).toEqual(expected.sort());
    expect(report.samples).toBe(expected.length);
    expect(listener.conflicts).toEqual([]);
    expect(severed).toBeGreaterThan(20);
    expect(heard.some((said) => said.startsWith('no broker'))).toBe(true);
  });
});

/** A line to the broker whose connections can be cut. */
async function cuttableLine(to: number): Promise<{ port: number; cut(): number; close(): void }> {
  const open = new Set<Socket>();
  const server = createServer((near) => {
    const far = connectTcp(to, '127.0.0.1');
    for (const [socket, other] of [
      [near, far],
      [far, near],
    ] as const) {
      open.add(socket);
      socket.on('error', () => undefined);
      socket.on('close', () => {
        open.delete(socket);
        other.destroy();
      });
    }
    near.pipe(far).pipe(near);
  });
  server.listen(0, '127.0.0.1');
  await once(server, 'listening');
  /** how many ends it cut */
  const cut = (): number => {
    const ends = [...open];
    for (const socket of ends) socket.destroy();
    return ends.length;
  };
  return {
    port: (server.address() as AddressInfo).port,
    cut,
    close: () => {
      cut();
      server.close();
    },
  };
}

describe('the demonstration is removed by one press', () => {
  let folder: string;
  beforeAll(async () => {
    folder = await mkdtemp(join(tmpdir(), 'holdoff-demo-removed-'));
  });
  afterAll(() => rm(folder, { recursive: true, force: true }));

  const heard: string[] = [];
  const make = () => new Demonstration({ folder, say: (line) => heard.push(line), historySeconds: 20 * 60 });

  /** rows that name the site, or one of these points, by table: in every table that has such a column */
  async function traces({ store }: ApiServer, site: string, points: readonly number[]): Promise<object> {
    const columns = await store.database.many<{ table: string; column: string }>(
      statement(
        '',
        `select c.table_name as "table", c.column_name as "column" from information_schema.columns c
         join information_schema.tables t using (table_schema, table_name)
         where c.table_schema = 'public' and t.table_type = 'BASE TABLE' and c.table_name <> 'audit'
           and c.column_name in ('site', 'point_id', 'topic') and c.table_name !~ '^samples_'`,
      ),
    );
    const found: Record<string, number> = {};
    for (const { table, column } of columns) {
      const holds = column === 'point_id' ? '= any($1)' : column === 'site' ? '= $1' : "like $1 || '%'";
      const value = { point_id: points, site, topic: `holdoff/${site}/` }[column];
      const [row] = await store.database.many<{ count: number }>(
        statement('', `select count(*)::int as count from ${table} where ${column} ${holds}`),
        [value],
      );
      if (row!.count > 0) found[table] = row!.count;
    }
    return found;
  }

  it('with all that was heard, inferred and told of it; what somebody changed stays until it is named', async () => {
    const first = make();
    const api = await startApi({ demonstration: first });
    const { database } = api.store;
    const ingest = await startIngest({
      databaseUrl: api.store.url,
      broker: { kind: 'embedded', host: '127.0.0.1', port: 0, folder, mostClients: 50 },
      ...{ id: 'demo', root: 'holdoff', markSeconds: 0.2, waveformDays: 1 },
      sparkplug: { hostId: 'holdoff', reorderSeconds: 1 },
      observe: () => {},
    });
    const ground = { brokerUrl: `mqtt://127.0.0.1:${ingest.port}`, database: api.server.database };
    let ended: Promise<void> | null = null;
    const endIngest = () => (ended ??= ingest.stop());
    const began = async (id: string) => (await api.get(`/api/sites/${id}`)).status === 200;
    try {
      await first.start(ground);
      const stranger = await connectAsync(ground.brokerUrl, { clientId: 'stranger' });
      await stranger.publishAsync('holdoff/harrow-lane/unit-1/no-such-signal', '1', { qos: 1 });
      await stranger.endAsync();
      const points = (
        await database.many<{ id: number }>(statement('', "select id from points where site = 'harrow-lane'"))
      ).map(({ id }) => id);
      for (const table of ['samples', 'events', 'rejected', 'heard_topics', 'arrivals'])
        await untilAsked(async () => table in (await traces(api, 'harrow-lane', points)), `rows in ${table}`);

      const document = (await api.get('/api/sites/pine-ridge')).body;
      const put = await api.send('PUT', '/api/sites/pine-ridge?from=always', { ...document, name: 'Mine' });
      expect(put.status).toBe(200);
      const before = (await api.get('/api/demonstration')).body;
      expect(before).toMatchObject({
        state: 'told',
        sites: [
          { id: 'harrow-lane', changedBy: null },
          { id: 'pine-ridge', name: 'Mine', changedBy: expect.stringMatching(/./) },
        ],
      });
      const other = await api.send('DELETE', '/api/demonstration?also=rowan');
      expect([other.status, other.body.detail]).toEqual([400, '“rowan” isn’t a site of the demonstration.']);

      const { status, body } = await api.send('DELETE', '/api/demonstration');
      expect(status).toBe(200);
      expect(body.removed.map(({ id }: { id: string }) => id)).toEqual(['harrow-lane']);
      expect(body.kept.map(({ id }: { id: string }) => id)).toEqual(['pine-ridge']);
      expect(body.says).toMatch(/^Removed: .*\. Kept, because changed by .*: Mine\./);
      await first.tidied;
      expect(await traces(api, 'harrow-lane', points)).toEqual({});

      const second = make(); // the next start
      await second.start(ground);
      expect([second.isTold, await began('harrow-lane'), await began('pine-ridge')]).toEqual([
        false,
        false,
        true,
      ]);
      expect(heard.at(-1)).toMatch(/^The demonstration was removed: take .*demo-removed away/);

      expect((await api.send('DELETE', '/api/demonstration?also=pine-ridge')).status).toBe(200);
      expect((await api.get('/api/demonstration')).body).toMatchObject({ state: 'removed', sites: [] });
      await endIngest(); // writes what it has noted and not written
      expect(await traces(api, 'harrow-lane', points)).toEqual({});
    } finally {
      await first.stop();
      await endIngest();
      await api.stop();
    }
  });

  it('and is there again once the file that says so is gone', async () => {
    await rm(join(folder, 'demo-removed'));
    expect(await make().removedAt()).toBeNull();
  });
});

async function untilAsked(holds: () => Promise<boolean>, what: string): Promise<void> {
  const end = Date.now() + 60_000;
  while (!(await holds())) {
    if (Date.now() > end) throw new Error(`not within a minute: ${what}`);
    await new Promise((resolve) => setTimeout(resolve, 100));
  }
}
