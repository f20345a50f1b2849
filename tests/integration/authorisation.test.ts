import { io, type Socket } from 'socket.io-client';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { actionRow, hasRole, ROLES, type Action, type Role } from '../../shared/wire/may.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';
import { invite, setUpAdministrator, type Browser } from '../fixtures/signed-in.ts';
import { seconds } from '../../shared/base/instant.ts';

/**
 * Every route of the OpenAPI document × every role × a site of one's own, another's, and one that isn't. What must come is
 * worked out from the table of shared/wire/may.ts and from nothing else; a new route is in here as soon as it is served.
 */
const OWN = 'rowan';
const OTHER = 'elm';
const NONE = 'nowhere';
type Place = typeof OWN | typeof OTHER | typeof NONE;

const DOCUMENT = {
  timeZone: 'UTC',
  panels: [{ id: 'panel-a' }],
  units: [
    { id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }] },
  ],
};

interface Operation {
  readonly method: string;
  readonly path: string;
  readonly action: Action;
}

let api: ApiServer;
let operations: Operation[];
let administrator: Browser | undefined;
const people = new Map<Role, Browser & { readonly id: string }>();
const events: Record<Place, string> = { [OWN]: '', [OTHER]: '', [NONE]: 'no-such-event' };

beforeAll(async () => {
  api = await startApi();
  for (const site of [OWN, OTHER]) await fill(site);
  administrator = await setUpAdministrator(api);
  for (const role of ROLES.slice(0, 3)) {
    const person = { name: role, email: `${role}@example.org`, role, sites: [OWN] };
    people.set(role, await invite(api, administrator, person));
  }
  // one of the same scope, whose own things may be taken away
  const second = { name: 'second', email: 'second@example.org', role: 'administrator', sites: null };
  people.set('administrator', await invite(api, administrator, second));
  const { paths } = (await administrator.get('/api/openapi.json')).body as OpenApi;
  operations = Object.entries(paths).flatMap(([path, methods]) =>
    Object.entries(methods).map(([method, one]) => ({
      method: method.toUpperCase(),
      path,
      action: one['x-action'],
    })),
  );
});
afterAll(() => api.stop());

type OpenApi = { readonly paths: Record<string, Record<string, { readonly 'x-action': Action }>> };

/** a site with an event in it */
async function fill(site: string): Promise<void> {
  const { database } = api.store;
  await putDocument(database, site, { ...DOCUMENT, name: site });
  let t = seconds(1_700_000_000);
  for (const value of [0, 1, 0]) {
    t += seconds(600);
    const rows = [
      { key: 'unit-1/cooling-call', t: t - seconds(1), value },
      { key: 'unit-1/compressor-output', t, value },
    ];
    await commit(database, site, [{ gateway: 'gateway', rows }]);
  }
  await caughtUp(database, site);
  events[site as Place] = (await (administrator ?? api).get(`/api/events?site=${site}`)).body.items[0].id;
}

const UUID = '00000000-0000-4000-8000-000000000000';
const FROM = '2023-11-14T22:00:00Z';
const TO = '2023-11-15T00:00:00Z';

/** What a route needs besides, so that only the right decides: by the names of its parameters. */
const PARAMETERS: Readonly<Record<string, string>> = {
  unit: 'unit-1',
  session: UUID,
  token: UUID,
  person: UUID,
  roster: UUID,
  override: UUID,
  policy: UUID,
  channel: UUID,
  panel: 'panel-a',
  proposal: UUID,
  save: '1',
};
const QUERIES: Readonly<Record<string, string>> = {
  '/api/sites/{site}/reinference': 'from=always',
  '/api/export/sites': 'table=sites',
  '/api/samples': 'device=unit-1&signal=cooling-call',
  '/api/series': `device=unit-1&from=${FROM}&to=${TO}`,
};
/** Routes that take their site as a word of the query. */
const BY_QUERY = new Set([
  ...['/api/samples', '/api/series', '/api/events', '/api/inference'],
  ...['samples', 'intervals', 'waveforms', 'events'].map((what) => `/api/export/${what}`),
]);
/** …or of the body. */
const BY_BODY = new Set([
  'POST /api/replay',
  ...['samples', 'intervals', 'waveforms'].map((what) => `POST /api/import/${what}`),
]);
const BODIES: Readonly<Record<string, (place: Place) => unknown>> = {
  'POST /api/replay': (site) => ({
    site,
    from: FROM,
    to: TO,
    units: ['unit-1'],
    settings: {},
    timerError: 0,
  }),
  'POST /api/import/samples': (site) => ({
    site,
    dryRun: true,
    rows: [{ point: 'unit-1/cooling-call', t: FROM, v: 0 }],
  }),
  'POST /api/import/intervals': (site) => ({
    site,
    dryRun: true,
    rows: [
      {
        ...{ point: 'panel-a/line-voltage', from: FROM, to: TO, least: 230, most: 240 },
        ...{ quality: 'good', conflict: false },
      },
    ],
  }),
  'POST /api/import/waveforms': (site) => ({
    site,
    dryRun: true,
    rows: [{ point: 'panel-a/line-voltage', t: FROM, stepSeconds: 0.001, scale: 1, values: [1] }],
  }),
  'PUT /api/sites/{site}': () => DOCUMENT,
  'POST /api/import/sites': () => ({ dryRun: true, files: [{ name: 'a.csv', text: '' }] }),
  'POST /api/panels/{site}/{panel}/recordings': () => ({ files: [{ name: 'a.cff', content: '' }] }),
  'POST /api/panels/{site}/{panel}/recordings/preview': () => ({ files: [{ name: 'a.cff', content: '' }] }),
  'POST /api/people/{person}/channels': () => ({ kind: 'e-mail', address: 'x@example.org' }),
  'POST /api/people': () => ({ name: 'x', email: 'not an address', role: 'viewer', sites: null }),
  'PUT /api/people/{person}': () => ({ name: 'x', role: 'viewer', sites: null, isClosed: false }),
  'POST /api/account/tokens': () => ({ name: 'x', role: 'viewer', sites: [], days: 1 }),
  'POST /api/account/password': () => ({ current: 'not the one', password: 'x' }),
  'POST /api/account/sign-in': () => ({ email: 'nobody@example.org', password: 'x' }),
  'POST /api/account/first-administrator': () => ({ name: 'x', email: 'x@example.org', password: 'x' }),
  'POST /api/account/link': () => ({ secret: 'none' }),
  'POST /api/account/link/use': () => ({ secret: 'none', password: 'x' }),
};
/** Signing out would end what the test goes on with; ending one's other sessions too. */
const LEFT_OUT = new Set(['POST /api/account/sign-out']);

/** Is it about one site: by its path, its query, its body or the id of something in it. */
const isAboutSite = ({ method, path }: Operation): boolean =>
  path.includes('{site}') ||
  path.includes('/events/{id}') ||
  BY_QUERY.has(path) ||
  BY_BODY.has(`${method} ${path}`);

function ask(browser: { send: Browser['send'] }, one: Operation, place: Place) {
  const path = one.path.replace(/\{(\w+)\}/g, (_, name: string) => {
    if (name === 'site') return place;
    return one.path.startsWith('/api/events') ? events[place] : (PARAMETERS[name] ?? UUID);
  });
  const query = [BY_QUERY.has(one.path) ? `site=${place}` : '', QUERIES[one.path] ?? '']
    .filter(Boolean)
    .join('&');
  return browser.send(
    one.method,
    query ? `${path}?${query}` : path,
    BODIES[`${one.method} ${one.path}`]?.(place),
  );
}

/** From the table alone. `let-in`: whatever the route then says, it isn't that one may not. */
type Expected = 'let-in' | 401 | 403 | 404;
function expected(role: Role | null, one: Operation, place: Place): Expected {
  const { least, reach } = actionRow(one.action);
  if (reach === 'open') return 'let-in';
  if (role === null) return 401;
  if (!hasRole(role, least)) return 403;
  if (role === 'administrator') return 'let-in';
  if (reach === 'everything') return 403;
  return reach === 'sites' && isAboutSite(one) && place !== OWN ? 404 : 'let-in';
}

test('every route names an action, and every action is a route’s or the metrics’', () => {
  expect(operations.filter(({ action }) => action === undefined)).toEqual([]);
  expect(operations.length).toBeGreaterThan(30);
});

test('every route × every role × own, other’s and no site: as the table says', async () => {
  const wrong: string[] = [];
  const lines: string[] = [];
  let asked = 0;
  for (const one of operations.filter(({ method, path }) => !LEFT_OUT.has(`${method} ${path}`))) {
    const cells: string[] = [];
    for (const role of [null, ...ROLES]) {
      const browser = role === null ? api : people.get(role)!;
      for (const place of isAboutSite(one) ? ([OTHER, NONE, OWN] as const) : ([OWN] as const)) {
        // what is there for an administrator is taken away by one alone, at the end
        if (one.method === 'DELETE' && role === 'administrator' && isAboutSite(one) && place !== NONE)
          continue;
        const { status, body } = await ask(browser, one, place);
        asked++;
        const must = expected(role, one, place);
        const isRight =
          must === 'let-in'
            ? status !== 403 && !(status === 401 && body.code === 'not-signed-in' && one.action !== 'sign-in')
            : status === must;
        if (!isRight)
          wrong.push(
            `${one.method} ${one.path} by ${role ?? 'nobody'} at ${place}: ${status}, must be ${must}`,
          );
        if (place === OWN || place === OTHER)
          cells.push(`${role?.slice(0, 5) ?? 'none'}${place === OTHER ? '*' : ''} ${status}`);
        if (one.method === 'DELETE' && status === 204 && place === OWN && one.path.includes('{site}'))
          await fill(OWN);
      }
    }
    lines.push(`${one.method.padEnd(6)} ${one.path.padEnd(44)} ${one.action.padEnd(17)} ${cells.join('  ')}`);
  }
  console.log([`${asked} requests; * another’s site`, ...lines].join('\n'));
  expect(wrong).toEqual([]);
});

test('a site out of scope and one that isn’t are told in the same words', async () => {
  const viewer = people.get('viewer')!;
  for (const one of operations.filter((operation) => isAboutSite(operation))) {
    const { least } = actionRow(one.action);
    if (!hasRole('engineer', least)) continue;
    const by = people.get('engineer')!;
    const [other, none] = [await ask(by, one, OTHER), await ask(by, one, NONE)];
    const said = (text: string) =>
      text
        .replaceAll(OTHER, '…')
        .replaceAll(NONE, '…')
        .replaceAll(events[OTHER], '…')
        .replaceAll(events[NONE], '…');
    const isPut = one.method === 'PUT' && none.status === 404;
    expect([one.method, one.path, other.status, isPut || said(JSON.stringify(other.body))]).toEqual([
      one.method,
      one.path,
      none.status,
      isPut || said(JSON.stringify(none.body)),
    ]);
  }
  expect((await viewer.get('/api/sites')).body.items).toHaveLength(1);
});

test('lists tell of one’s own sites alone', async () => {
  for (const role of ['viewer', 'technician', 'engineer'] as const) {
    const by = people.get(role)!;
    const idsOf = async (path: string, of: (body: never) => { id?: string; site?: string }[]) =>
      new Set(of((await by.get(path)).body as never).map(({ id, site }) => site ?? id));
    expect(await idsOf('/api/sites', ({ items }) => items)).toEqual(new Set([OWN]));
    expect(await idsOf('/api/board', ({ sites }) => sites)).toEqual(new Set([OWN]));
    expect(await idsOf('/api/events', ({ items }) => items)).toEqual(new Set([OWN]));
  }
  expect(JSON.stringify((await people.get('viewer')!.get('/api/board')).body)).not.toContain(OTHER);
});

test('another’s session and another’s token are nobody’s business', async () => {
  const engineer = people.get('engineer')!;
  const ask = { name: 'mine', role: 'viewer', sites: [OWN], days: 1 };
  const token = (await engineer.send('POST', '/api/account/tokens', ask)).body.token.id;
  const session = (await engineer.get('/api/account/sessions')).body.items[0].id;
  for (const role of ['viewer', 'technician', 'administrator'] as const) {
    const by = people.get(role)!;
    expect((await by.send('DELETE', `/api/account/tokens/${token}`)).status).toBe(404);
    expect((await by.send('DELETE', `/api/account/sessions/${session}`)).status).toBe(404);
  }
  expect(
    (await engineer.get('/api/account/tokens')).body.items.map(({ id }: { id: string }) => id),
  ).toContain(token);
});

test('a replay of another’s site isn’t there, neither to look at nor to cancel', async () => {
  const made = await administrator!.send('POST', '/api/replay', {
    site: OTHER,
    from: FROM,
    to: TO,
    settings: {},
  });
  expect(made.status).toBe(202);
  const path = `/api/replay/${made.body.id}`;
  for (const method of ['GET', 'DELETE'])
    expect((await people.get('engineer')!.send(method, path)).status).toBe(404);
  expect((await administrator!.get(path)).status).toBe(200);
});

/** The live socket, as a signed-in browser opens it. */
async function openSocket(browser: Browser, origin?: string): Promise<Socket> {
  const socket = io(api.server.url, {
    path: '/live',
    transports: ['websocket'],
    reconnection: false,
    extraHeaders: { cookie: browser.cookie ?? '', ...(origin ? { origin } : {}) },
  });
  await new Promise<void>((resolve, reject) => {
    socket.on('connect', () => resolve());
    socket.on('connect_error', reject);
  });
  return socket;
}
const join = (socket: Socket, room: string) =>
  new Promise<{ ok: boolean; says?: string }>((resolve) => socket.emit('join', room, resolve));

test('the live socket keeps to the scope: rooms of other sites aren’t there, the board tells of one’s own', async () => {
  const socket = await openSocket(people.get('viewer')!);
  expect(await join(socket, `site:${OTHER}`)).toEqual({ ok: false, says: `There is no site "${OTHER}".` });
  expect((await join(socket, `site:${NONE}`)).ok).toBe(false);
  expect((await join(socket, `site:${OWN}`)).ok).toBe(true);
  const board = await openSocket(people.get('viewer')!);
  const everything = await openSocket(administrator!);
  const [seen, all] = [new Set<string>(), new Set<string>()];
  const note = (into: Set<string>) => (frame: { sites?: { id: string }[]; events?: { site: string }[] }) => {
    for (const { id } of frame.sites ?? []) into.add(id);
    for (const { site } of frame.events ?? []) into.add(site);
  };
  for (const name of ['status', 'event']) {
    board.on(name, note(seen));
    everything.on(name, note(all));
  }
  await join(board, 'board');
  await join(everything, 'board');
  await more(OTHER);
  await more(OWN);
  await expect.poll(() => [...seen, ...all].sort()).toEqual([OTHER, OWN, OWN].sort());
  for (const one of [socket, board, everything]) one.close();
});

async function more(site: string): Promise<void> {
  const t = seconds(1_700_010_000);
  const rows = [
    { key: 'unit-1/cooling-call', t: t - seconds(1), value: 1 },
    { key: 'unit-1/compressor-output', t, value: 1 },
  ];
  await commit(api.store.database, site, [{ gateway: 'gateway', rows }]);
}

test('a page of another site can’t open the socket with this page’s cookie', async () => {
  await expect(openSocket(administrator!, 'https://elsewhere.example')).rejects.toThrow();
});

test('a session that is ended parts its socket within seconds', async () => {
  const viewer = people.get('viewer')!;
  const socket = await openSocket(viewer);
  const parted = new Promise<string>((resolve) => socket.on('disconnect', resolve));
  const began = performance.now();
  expect((await administrator!.send('DELETE', `/api/people/${viewer.id}/sessions`)).status).toBe(204);
  expect(await parted).toBe('io server disconnect');
  console.log(
    `a socket was parted ${((performance.now() - began) / 1000).toFixed(1)} s after its session had ended`,
  );
  expect(performance.now() - began).toBeLessThan(15_000);
});
