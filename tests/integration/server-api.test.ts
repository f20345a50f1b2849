import { readFileSync } from 'node:fs';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import Schema from 'typebox/schema';
import { countObservations } from '../../ingest/metrics.ts';
import { makeRegistry } from '../../server/http/metrics.ts';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { EventAnswer, EventList } from '../../shared/wire/event-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { SampleList, SeriesAnswer } from '../../shared/wire/series.ts';
import { InferenceAnswer, ReadyAnswer, RejectedList, SiteList } from '../../shared/wire/service.ts';
import { BoardAnswer, SiteStatus } from '../../shared/wire/status.ts';
import { TelemetryAnswer, type PointTelemetry } from '../../shared/wire/telemetry.ts';
import { UnitView } from '../../shared/wire/unit-view.ts';
import { commit as commitParts, commitSamples } from '../fixtures/commit.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, type Message } from '../fixtures/follow-store.ts';
import { setUpAdministrator } from '../fixtures/signed-in.ts';
import { FULL, recordOf } from '../fixtures/unit-record.ts';

const DOCUMENT = {
  name: 'Rowan Street',
  timeZone: 'America/Chicago',
  address: '4 Rowan Street',
  gateways: [{ id: 'gateway', heartbeatSeconds: 30 }],
  panels: [{ id: 'panel-a' }],
  units: [
    {
      id: 'unit-1',
      name: 'Room 1',
      panel: 'panel-a',
      protection: { offDelay: 210 },
      points: FULL,
      make: 'as on its plate',
    },
  ],
};

const BASE = 1_700_000_000;
const RECORD = recordOf([
  [100, { call: true }],
  [500, { highPressureOpen: true }],
  [520, { highPressureOpen: false }],
  [800, { highPressureOpen: true }],
  [900, { highPressureOpen: false }],
  [1500, { call: false }],
]).map((row) => ({ ...row, t: row.t + seconds(BASE) }));
/** one for each point and instant */
const SAMPLES = [...new Map(RECORD.map((row) => [`${row.key}@${row.t}`, row])).values()];
const MESSAGES: Message[] = SAMPLES.map((row) => ({ gateway: 'gateway', rows: [row] }));
const at = (second: number): string => formatInstant(seconds(BASE + second));

let api: ApiServer;

const fits = (schema: object, value: unknown): void => {
  const [, errors] = Schema.Errors(schema, value);
  expect(errors).toEqual([]);
};

beforeAll(async () => {
  api = await startApi();
  const put = await api.send('PUT', '/api/sites/rowan', DOCUMENT);
  expect(put.status).toBe(201);
  expect(put.body.from).toBe('always');
  await commit(api.store.database, 'rowan', MESSAGES);
  await caughtUp(api.store.database, 'rowan');
});
afterAll(() => api.stop());

describe('the service itself', () => {
  test('is alive, and says what it stands on', async () => {
    expect((await api.get('/api/health')).body.ok).toBe(true);
    const ready = await api.get('/api/ready');
    expect(ready.status).toBe(200);
    fits(ReadyAnswer, ready.body);
    expect(ready.body.database.version).toMatch(/^\d+/);
    expect(ready.body.database.timescale).toBeNull();
    const parts = ready.body.parts.map((part: ReadyAnswer['parts'][number]) => [
      part.name,
      part.ok,
      part.gates,
    ]);
    expect(parts).toEqual([
      ['database', true, true],
      ['storage', true, false],
      ['watch', false, false], // a test commits: nobody listens, and the page is there all the same
      ['inference', true, false],
      ['notices', true, false],
      ['ingest', true, true],
    ]);
    for (const { since, says } of ready.body.parts) {
      expect(Date.parse(since)).toBeLessThanOrEqual(Date.now());
      expect(says).not.toBe('');
    }
    expect((await api.get('/api/ready')).body.parts[0].since).toBe(ready.body.parts[0].since);
  });

  test('has nothing waiting once everything is folded', async () => {
    const { body } = await api.get('/api/inference?site=rowan');
    fits(InferenceAnswer, body);
    expect(body.pending).toBe(0);
    expect(body.stopped).toEqual([]);
  });

  test('gives metrics as Prometheus reads them', async () => {
    const { status, type, body } = await api.get('/metrics');
    expect([status, type]).toEqual([200, 'text/plain']);
    expect(body).toMatch(/holdoff_inference_steps_total\{kind="unit",outcome="done"\} [1-9]/);
    expect(body).toMatch(/^holdoff_inference_work_items\{kind="unit"\} 0$/m);
    expect(body).toMatch(/^holdoff_database_up 1$/m);
    expect(body).not.toMatch(/^holdoff_watch_mark_age_seconds/m); // nobody has ever listened: not known isn't 0
  });

  test('documents each of its metrics, with its kind and labels, and no other', async () => {
    const section = readFileSync('DEVELOPERS.md', 'utf8').split('## What it measures')[1]!.split('\n## ')[0]!;
    const rows = [...section.matchAll(/^\| `(\w+)` \| (\w+) \| (.*?) \|/gm)];
    const told = rows.map(([, name, kind, labels]) => [
      ...[name, kind, [...labels!.matchAll(/`(\w+)`/g)].map(([, label]) => label).sort()],
    ]);
    const registry = makeRegistry();
    // told only where there is a TLS port
    countObservations(registry, () => null)({ kind: 'tls-certificate', endsAt: 0 });
    const own = (await api.get('/metrics')).body as string;
    const kinds = [...`${own}\n${await registry.metrics()}`.matchAll(/^# TYPE (\w+) (\w+)$/gm)];
    const real = kinds
      .map(([, name, kind]) => [name!, kind!])
      .filter(([name]) => !/^holdoff_(process|nodejs)_/.test(name!));
    expect(told.map(([name, kind]) => [name, kind]).sort()).toEqual(real.sort());
    for (const [name, kind, labels] of told) {
      expect(name, 'a counter ends in _total, and nothing else does').toMatch(
        kind === 'counter' ? /_total$/ : /(?<!_total)$/,
      );
      const seen = [...own.matchAll(new RegExp(`^${name}(?:_bucket)?\\{(.*)\\} `, 'gm'))];
      for (const [, found] of seen) {
        const names = [...found!.matchAll(/(\w+)="/g)].map(([, label]) => label!);
        expect(names.filter((label) => label !== 'le').sort(), String(name)).toEqual(labels);
      }
    }
  });

  test('describes every route in OpenAPI 3.1', async () => {
    const { body } = await api.get('/api/openapi.json');
    expect(body.openapi).toBe('3.1.0');
    expect(Object.keys(body.paths)).toEqual(
      expect.arrayContaining([
        '/api/sites/{site}',
        '/api/events',
        '/api/series',
        '/api/board',
        '/api/inference',
      ]),
    );
  });

  test('answers with a policy that lets in nothing from elsewhere', async () => {
    const { headers } = await api.get('/api/health');
    expect(headers.get('content-security-policy')).toContain("default-src 'self'");
  });
});

describe('sites', () => {
  test('are listed, and read back as they were put', async () => {
    const list = await api.get('/api/sites');
    fits(SiteList, list.body);
    expect(list.body.items).toMatchObject([
      { id: 'rowan', name: 'Rowan Street', units: 1, panels: 1, spaces: 1 },
    ]);
    expect((await api.get('/api/sites/rowan')).body).toEqual(DOCUMENT);
  });

  test('with faults are refused whole, each fault with its place', async () => {
    const bad = {
      ...DOCUMENT,
      timeZone: 'Mars/Olympus',
      units: [{ ...DOCUMENT.units[0], panel: 'panel-z' }],
    };
    const { status, type, body } = await api.send('PUT', '/api/sites/rowan', bad);
    expect([status, type]).toEqual([422, 'application/problem+json']);
    fits(Problem, body);
    expect(body.faults.map((fault: { pointer: string }) => fault.pointer)).toEqual([
      '/timeZone',
      '/units/0/panel',
    ]);
    expect((await api.get('/api/sites/rowan')).body).toEqual(DOCUMENT);
  });

  test('keep their history: what holds from an instant leaves the time before alone', async () => {
    await api.send('PUT', '/api/sites/elm', { timeZone: 'UTC', name: 'first' });
    const put = await api.send('PUT', '/api/sites/elm?from=2026-03-02T08:15:00Z', {
      timeZone: 'UTC',
      name: 'second',
    });
    expect([put.status, put.body.from]).toEqual([200, '2026-03-02T08:15:00.000Z']);
    expect((await api.get('/api/sites/elm?at=2026-03-02T08:14:59Z')).body.name).toBe('first');
    expect((await api.get('/api/sites/elm?at=2026-03-02T08:15:00Z')).body.name).toBe('second');
    expect((await api.get('/api/sites/elm/versions')).body.versions).toMatchObject([
      { from: 'always' },
      { from: '2026-03-02T08:15:00.000Z' },
    ]);
    expect((await api.send('DELETE', '/api/sites/elm')).status).toBe(204);
    expect((await api.get('/api/sites/elm')).status).toBe(404);
    expect((await api.send('DELETE', '/api/sites/elm')).status).toBe(404);
  });

  test.each([
    ['no JSON', '{', 400, 'bad-request'],
    ['a list', [], 422, 'bad-configuration'],
    ['a number', 7, 422, 'bad-configuration'],
  ])('a document that is %s is refused', async (_, document, status, code) => {
    const answer = await api.send('PUT', '/api/sites/ash', document);
    expect([answer.status, answer.body.code]).toEqual([status, code]);
  });

  test('an id that is no slug, and an instant that is none, are refused', async () => {
    expect((await api.send('PUT', '/api/sites/Ash', { timeZone: 'UTC' })).status).toBe(422);
    const bad = await api.send('PUT', '/api/sites/ash?from=yesterday', { timeZone: 'UTC' });
    expect([bad.status, bad.body.faults[0].pointer]).toEqual([400, '/from']);
    expect((await api.get('/api/sites/ash')).status).toBe(404);
  });
});

describe('status', () => {
  test('has every unit with what it does now', async () => {
    const { body } = await api.get('/api/sites/rowan/status');
    fits(SiteStatus, body);
    expect(body).toMatchObject({
      id: 'rowan',
      name: 'Rowan Street',
      address: '4 Rowan Street',
      inferencePending: 0,
    });
    expect(body.units[0]).toMatchObject({ id: 'unit-1', name: 'Room 1', stopped: null });
    expect(body.units[0].standing.phase).toBeTypeOf('string');
    expect(body.gateways[0].lastLife).not.toBeNull();
  });

  test('of all sites is the board, a page at a time', async () => {
    const { body } = await api.get('/api/board');
    fits(BoardAnswer, body);
    expect(body.sites.map(({ id }: { id: string }) => id)).toEqual(['rowan']);
    expect(body.sites[0].units[0].strip.phases.at(-1).phase).toBe('not-known');
  });

  test('of one unit has its settings, wiring, thresholds and facts', async () => {
    const { body } = await api.get('/api/sites/rowan/units/unit-1');
    fits(UnitView, body);
    const settings = Object.fromEntries(body.settings.map((one: { name: string }) => [one.name, one]));
    // its retry came 210 s after the stop: what was recorded is proven
    expect(settings['offDelay']).toMatchObject({ value: 210, known: 'proven', measure: 's', gaps: 1 });
    expect(settings['offDelay'].bracket[0]).toBeLessThanOrEqual(210);
    expect(settings['offDelay'].bracket[1]).toBeGreaterThanOrEqual(210);
    expect(settings['lowPressureBypass']).toMatchObject({ value: 120, known: 'assumed' });
    expect(body.points).toHaveLength(FULL.length);
    expect(body.facts).toMatchObject({ make: 'as on its plate', model: null });
    expect(body.observability.kinds.length).toBeGreaterThan(40);
    expect(body.observability.changes[0].says).toMatch(/^(Report|Record|Wire|Measure|Sense|Let) .*\.$/);
  });

  test('of what isn’t there is a 404', async () => {
    for (const path of ['/api/sites/none/status', '/api/sites/rowan/units/none', '/api/sites/none'])
      expect((await api.get(path)).status).toBe(404);
  });
});

describe('events', () => {
  const QUERY = `/api/events?site=rowan&unit=unit-1&from=${at(0)}&to=${at(2000)}`;

  test('are told oldest first, by kind, a page at a time', async () => {
    const all = (await api.get(QUERY)).body;
    fits(EventList, all);
    const starts = all.items.map((event: EventAnswer) => event.start.latest);
    expect(starts).toEqual([...starts].sort());
    const one = (await api.get(`${QUERY}&kind=hard-lockout`)).body.items;
    expect(one).toMatchObject([
      { kind: 'hard-lockout', cause: 'high-pressure', certainty: 'certain', unit: 'unit-1' },
    ]);
    const pages = [];
    for (let cursor: string | null = ''; cursor !== null;) {
      const page: EventList = (await api.get(`${QUERY}&limit=2${cursor ? `&cursor=${cursor}` : ''}`)).body;
      expect(page.items.length).toBeLessThanOrEqual(2);
      pages.push(...page.items);
      cursor = page.cursor;
    }
    expect(pages).toEqual(all.items);
  });

  test('one by one, by id', async () => {
    const [first] = (await api.get(QUERY)).body.items;
    const one = await api.get(`/api/events/${first.id}`);
    fits(EventAnswer, one.body);
    // nothing was said of it before
    expect(one.body).toEqual({ ...(first as object), history: [] });
    expect((await api.get('/api/events/none')).status).toBe(404);
  });

  test('only those that touch the stretch asked for', async () => {
    const { items } = (
      await api.get(`/api/events?site=rowan&from=${at(600)}&to=${at(700)}&kind=soft-lockout`)
    ).body;
    expect(items).toHaveLength(1);
    expect((await api.get(`/api/events?site=rowan&from=${at(-3000)}&to=${at(-2900)}`)).body.items).toEqual(
      [],
    );
  });

  test.each(['kind=nonsense', 'from=yesterday', 'cursor=abc', 'limit=0', 'limit=100000', 'site=No%20Slug'])(
    'a query with %s is refused',
    async (query) => {
      const { status, body } = await api.get(`/api/events?${query}`);
      expect([status, body.code]).toEqual([400, 'bad-request']);
    },
  );
});

describe('samples and series', () => {
  const POINT = 'site=rowan&device=unit-1&signal=compressor-output';

  test('samples come back exactly, a page at a time', async () => {
    const expected = SAMPLES.filter(({ key }) => key === 'unit-1/compressor-output');
    const { body } = await api.get(`/api/samples?${POINT}&from=${at(-300)}&to=${at(4000)}&limit=10000`);
    fits(SampleList, body);
    expect(body.items).toEqual(
      expected.map(({ t, value }) => ({ t: formatInstant(t), v: value, q: 'good' })),
    );
    const first = (await api.get(`/api/samples?${POINT}&limit=3`)).body;
    const next = (await api.get(`/api/samples?${POINT}&limit=3&cursor=${first.cursor}`)).body;
    expect([...first.items, ...next.items]).toEqual(body.items.slice(0, 6));
  });

  test('a contact’s series has its exact steps, asserted or not', async () => {
    const { body } = await api.get(
      `/api/series?site=rowan&device=unit-1&from=${at(0)}&to=${at(2000)}&width=500`,
    );
    fits(SeriesAnswer, body);
    const output = body.series.find(({ signal }: { signal: string }) => signal === 'compressor-output');
    // on 100, off 500, on 710, off 800 (handbook 2.3, two in one call)
    expect(output.v).toEqual([0, 1, 0, 1, 0]);
    expect(output.t.slice(1)).toEqual([at(100), at(500), at(710), at(800)]);
    const high = body.series.find(({ signal }: { signal: string }) => signal === 'high-pressure');
    expect(high.v).toEqual([0, 1, 0, 1, 0]); // normally closed: open is tripped
  });

  test('an analog’s series is drawn size, whatever the stretch', async () => {
    const query = `site=rowan&device=unit-1&signals=control-voltage&from=${at(-200)}&to=${at(3500)}&width=50`;
    const [voltage] = (await api.get(`/api/series?${query}`)).body.series;
    expect(voltage.t.length).toBeLessThanOrEqual(51);
    expect(new Set(voltage.mean)).toEqual(new Set([26]));
    expect(voltage.measure).toBe('V');
  });

  test.each([
    [`/api/series?site=rowan&device=unit-1&from=${at(10)}&to=${at(5)}`, 400],
    [`/api/series?site=rowan&device=unit-1&from=${at(1)}&to=${at(5)}&width=5`, 400],
    [`/api/series?site=rowan&device=unit-1&signals=smoke&from=${at(1)}&to=${at(5)}`, 404],
    [`/api/series?site=rowan&device=unit-1`, 400],
    [`/api/samples?site=rowan&device=unit-1&signal=smoke`, 404],
    [`/api/samples?site=none&device=unit-1&signal=smoke`, 404],
  ])('%s is refused', async (path, status) => {
    expect((await api.get(path)).status).toBe(status);
  });
});

test('what is served nowhere is a problem document too', async () => {
  const { status, type, body } = await api.get('/api/nowhere');
  expect([status, type, body.code]).toEqual([404, 'application/problem+json', 'not-found']);
});

test('a method that an address doesn’t take is told from an address that isn’t', async () => {
  const { status, body, headers } = await api.send('POST', '/api/sites/rowan');
  expect([status, body.code]).toEqual([405, 'not-allowed-here']);
  expect(headers.get('allow')).toContain('PUT');
});

test.each([
  ['text/plain', 'x', 415, 'wrong-media-type'],
  ['application/json', `{"notes":"${'x'.repeat(5_000_000)}"}`, 413, 'too-large'],
])('a body that is %s, or too large, is refused', async (type, text, status, code) => {
  const answer = await api.send('PUT', '/api/sites/ash', text, { 'content-type': type });
  expect([answer.status, answer.body.code]).toEqual([status, code]);
});

describe('what was set aside', () => {
  beforeAll(async () => {
    const entry = (topic: string, reason: string, payload: string | Buffer) => ({
      receivedAt: seconds(BASE),
      topic,
      reason,
      detail: 'as the decoder said',
      payload: Buffer.from(payload as string),
      payloadBytes: Buffer.from(payload as string).length,
    });
    await commitParts(api.store.database, {
      rejected: [
        entry('holdoff/rowan/unit-1/fan-call', 'unknown-point', '1'),
        entry('holdoff/rowan/unit-1/fan-call', 'not-json', Buffer.from([0xff, 0xfe, 0x00])),
        entry('holdoff/elm/unit-1/fan-call', 'unknown-point', 'é'.repeat(2000)),
      ],
    });
  });

  test('is shown newest first, with its reason and what of it was kept', async () => {
    const { body } = await api.get('/api/rejected');
    fits(RejectedList, body);
    expect(body.items.map(({ topic, reason }: Record<string, string>) => [topic, reason])).toEqual([
      ['holdoff/elm/unit-1/fan-call', 'unknown-point'],
      ['holdoff/rowan/unit-1/fan-call', 'not-json'],
      ['holdoff/rowan/unit-1/fan-call', 'unknown-point'],
    ]);
    expect(body.items[1]).toMatchObject({ payload: 'fffe00', encoding: 'hex', payloadBytes: 3 });
    expect(body.items[0].payload).toBe('é'.repeat(512)); // 1,024 bytes of 4,000
  });

  test('can be sifted by topic and reason, a page at a time', async () => {
    const below = await api.get('/api/rejected?topic=holdoff/rowan');
    expect(below.body.items).toHaveLength(2);
    expect((await api.get('/api/rejected?reason=not-json')).body.items).toHaveLength(1);
    const first = (await api.get('/api/rejected?limit=2')).body;
    const next = (await api.get(`/api/rejected?limit=2&cursor=${first.cursor}`)).body;
    expect([first.items.length, next.items.length, next.cursor]).toEqual([2, 1, null]);
  });
});

describe('how telemetry comes in', () => {
  const NOW = Math.floor(Date.now() / 1000) * 1e6;
  const KEY = 'unit-1/control-voltage';

  beforeAll(async () => {
    const { database } = api.store;
    const voltage = (age: number, value: number, quality = 0) => ({
      ...{ key: KEY, t: NOW - seconds(age), value, quality },
    });
    // a minute of one each 5 s; one instant was sent twice, once with another value
    await commitSamples(
      database,
      'rowan',
      [60, 55, 50, 45, 40].map((age) => voltage(age, 26)),
    );
    await commitSamples(database, 'rowan', [voltage(45, 25), voltage(35, 0, 2)]);
    const late = (minutes: number, count: number, ms: number) => ({
      ...{ site: 'rowan', gateway: 'gateway', minute: NOW - seconds(60 * minutes), count },
      ...{ leastMs: ms - 500, medianMs: ms },
    });
    await commitParts(database, { arrivals: [late(2, 60, 250_000), late(600, 600, 1_500)] });
    const entry = (topic: string, reason: string, payload: string) => ({
      ...{ receivedAt: NOW, topic, reason, detail: 'as the decoder said' },
      ...{ payload: Buffer.from(payload), payloadBytes: payload.length },
    });
    await commitParts(database, {
      rejected: [
        entry('holdoff/rowan/unit-1/fan-call', 'point-not-known', '1'),
        entry('holdoff/rowan/unit-1/fan-call', 'point-not-known', '0'),
        entry('holdoff/rowans/unit-1/fan-call', 'payload-not-json', '{'),
      ],
    });
  });

  test('of one site: a sentence, its gateway’s lateness, each point’s last value and what of it was odd', async () => {
    const { body } = await api.get('/api/telemetry?site=rowan');
    fits(TelemetryAnswer, body);
    expect(body.says).toBe(
      `All ${FULL.length} points are heard; gateway is 4 min behind; 2 entries were set aside in the last 24 h, all from one topic.`,
    );
    expect(body.gateways).toMatchObject([
      { id: 'gateway', now: { perMinute: 6, medianSeconds: 250, leastSeconds: 249.5 }, behindSeconds: 250 },
    ]);
    expect(body.gateways[0].day.leastSeconds).toBe(1);
    expect(body.gateways[0].isCatchingUp).toBe(false); // evenly late
    expect(body.site).toMatchObject({ id: 'rowan' });
    const voltage = body.items.find(({ signal }: PointTelemetry) => signal === 'control-voltage');
    expect(voltage).toMatchObject({
      ...{ state: 'heard', kind: 'analog', gateway: 'gateway', perMinute: 0.6 },
      last: { t: formatInstant(NOW - seconds(35)), v: 0, quality: 'bad' },
      day: { samples: 6, seconds: 25, uncertain: 1, bad: 1, conflicts: 1 },
    });
    expect(body.setAside.reasons).toMatchObject([
      {
        ...{ reason: 'point-not-known', count: 2, topics: 1 },
        says: 'the configuration has no such point',
        newest: { topic: 'holdoff/rowan/unit-1/fan-call', payload: '0', encoding: 'utf-8' },
      },
    ]);
    expect(body.setAside.reasons[0].todo).toMatch(/^Write the point into the site’s configuration/);
  });

  test('can be sifted, a page at a time', async () => {
    const named = async (query: string) =>
      ((await api.get(`/api/telemetry?site=rowan&${query}`)).body.items as PointTelemetry[]).map(
        ({ signal }) => signal,
      );
    expect(await named('state=odd')).toEqual(['control-voltage']);
    expect(await named('state=silent')).toEqual([]);
    expect(await named('q=PRESSURE')).toEqual(['high-pressure', 'low-pressure']);
    const pages: string[] = [];
    for (let cursor: string | null = ''; cursor !== null;) {
      const page: TelemetryAnswer = (
        await api.get(`/api/telemetry?site=rowan&limit=4${cursor ? `&cursor=${cursor}` : ''}`)
      ).body;
      expect(page.items.length).toBeLessThanOrEqual(4);
      pages.push(...page.items.map(({ signal }) => signal));
      cursor = page.cursor;
    }
    expect(pages).toEqual(await named('limit=500'));
    expect((await api.get('/api/telemetry?site=none')).status).toBe(404);
    expect((await api.get('/api/telemetry?site=rowan&state=nonsense')).status).toBe(400);
  });

  test('of all sites: a line for each, and what was set aside anywhere', async () => {
    const { body } = await api.get('/api/telemetry');
    fits(TelemetryAnswer, body);
    expect(body.sites).toMatchObject([
      { id: 'rowan', says: `All ${FULL.length} points are heard; gateway is 4 min behind.`, isWell: false },
    ]);
    expect(body.setAside).toMatchObject({ count: 3, topics: 2 });
  });

  test('whoever may see other sites alone is told of none of it', async () => {
    const ada = await setUpAdministrator(api);
    const wish = { name: 'elm alone', role: 'engineer', sites: ['elm'], days: 1 };
    const made = await ada.send('POST', '/api/account/tokens', wish);
    expect(made.status).toBe(201);
    const headers = { authorization: `Bearer ${made.body.secret}` };
    const all = await api.send('GET', '/api/telemetry', undefined, headers);
    expect(all.body).toMatchObject({ sites: [], gateways: [], setAside: { count: 0 } });
    expect((await api.send('GET', '/api/telemetry?site=rowan', undefined, headers)).status).toBe(404);
  });
});
