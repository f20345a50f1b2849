import { afterAll, beforeAll, expect, test } from 'vitest';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { ADMINISTRATOR, invite, openBrowserOf, PASSWORD, type Browser } from '../fixtures/signed-in.ts';

/** From the first start to a working crew, as it is done over HTTP; each test stands on those before it. */
let api: ApiServer;
let ada: Browser;
beforeAll(async () => {
  api = await startApi();
});
afterAll(() => api.stop());

test('until somebody sets up an administrator this machine is let in with full rights, and is told so', async () => {
  const { body } = await api.get('/api/account');
  expect(body).toEqual({
    actor: { kind: 'machine', id: 'this-machine', name: 'this machine', role: 'administrator', sites: null },
    email: null,
    isSetUp: false,
    firstAdministrator: 'here',
    provider: null,
  });
  expect((await api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' })).status).toBe(201);
  expect((await api.get('/api/sites/rowan/versions')).body.versions[0].putBy).toBe('this machine');
});

test.each([
  ['short', /15 or more/],
  ['aaaaaaaaaaaaaaaaaa', /repeats itself/],
  ['12345678901234567890', /repeats itself/],
  ['qwertyuiopasdfghjkl', /repeats itself/],
  ['holdoffholdoffholdoff', /repeats itself/],
  ['Ada Quist password 1', /name, your address/],
])('the first administrator can’t take %j as a password', async (password, says) => {
  const { status, body } = await api.send('POST', '/api/account/first-administrator', {
    ...ADMINISTRATOR,
    password,
  });
  expect(status).toBe(400);
  expect(body.faults[0].message).toMatch(says);
});

test('the first administrator is signed in by a cookie that no script sees and no other site sends', async () => {
  ada = openBrowserOf(api);
  const { status, headers, body } = await ada.send('POST', '/api/account/first-administrator', ADMINISTRATOR);
  expect(status).toBe(201);
  expect(headers.get('set-cookie')).toMatch(
    /^holdoff-session=hs_[\w-]{43}; Path=\/; HttpOnly; SameSite=Strict; Max-Age=2592000$/,
  );
  expect(body.actor).toMatchObject({ kind: 'person', name: 'Ada Quist', role: 'administrator', sites: null });
});

test('from then on this machine signs in as everybody does, and nobody sets up another first', async () => {
  expect((await api.get('/api/sites')).status).toBe(401);
  expect((await api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' })).status).toBe(401);
  expect((await api.send('POST', '/api/account/first-administrator', ADMINISTRATOR)).status).toBe(409);
  expect((await ada.get('/api/sites')).status).toBe(200);
  expect((await api.get('/api/health')).status).toBe(200);
});

test('she signs out and in again', async () => {
  const held = ada.cookie!;
  expect((await ada.send('POST', '/api/account/sign-out')).status).toBe(204);
  expect(ada.cookie).toBe(null);
  expect((await api.send('GET', '/api/sites', undefined, { cookie: held })).status).toBe(401);
  const { email } = ADMINISTRATOR;
  expect((await ada.send('POST', '/api/account/sign-in', { email, password: `${PASSWORD}!` })).status).toBe(
    401,
  );
  const again = await ada.send('POST', '/api/account/sign-in', {
    email: ' ADA@example.org ',
    password: PASSWORD,
  });
  expect(again.status).toBe(200);
  expect((await ada.get('/api/account')).body).toMatchObject({
    email,
    isSetUp: true,
    firstAdministrator: null,
  });
});

test('a link invites once; what it was for is told before, and nothing changes by looking', async () => {
  const person = { name: 'Ben Oyelaran', email: 'ben@example.org', role: 'viewer', sites: ['rowan'] };
  const { body, status } = await ada.send('POST', '/api/people', person);
  expect(status).toBe(201);
  const { secret } = body.link;
  for (let i = 0; i < 3; i++) {
    const look = await api.send('POST', '/api/account/link', { secret });
    expect(look.body).toMatchObject({ purpose: 'invitation', name: person.name, email: person.email });
  }
  const refused = await api.send('POST', '/api/account/link/use', { secret, password: 'too short' });
  expect(refused.status).toBe(400);
  const ben = openBrowserOf(api);
  expect((await ben.send('POST', '/api/account/link/use', { secret, password: PASSWORD })).status).toBe(200);
  expect((await ben.get('/api/sites')).body.items.map(({ id }: { id: string }) => id)).toEqual(['rowan']);
  const again = await api.send('POST', '/api/account/link/use', { secret, password: PASSWORD });
  expect([again.status, again.body.code]).toEqual([404, 'not-found']);
});

test('a reset link ends every session that the person had, and a newer link makes an older void', async () => {
  const cyd = await invite(api, ada, {
    name: 'Cyd Marsh',
    email: 'cyd@example.org',
    role: 'technician',
    sites: null,
  });
  const first = (await ada.send('POST', `/api/people/${cyd.id}/link`)).body;
  const second = (await ada.send('POST', `/api/people/${cyd.id}/link`)).body;
  expect(second.purpose).toBe('password-reset');
  const elsewhere = openBrowserOf(api);
  const use = (secret: string) =>
    elsewhere.send('POST', '/api/account/link/use', { secret, password: 'nine blue kettles sing' });
  expect((await use(first.secret)).status).toBe(404);
  expect((await use(second.secret)).status).toBe(200);
  expect((await cyd.get('/api/account')).body.actor).toBe(null);
});

test('one’s own sessions are listed and ended; changing the password ends the others', async () => {
  const dee = await invite(api, ada, {
    name: 'Dee Lund',
    email: 'dee@example.org',
    role: 'engineer',
    sites: null,
  });
  const enter = async () => {
    const browser = openBrowserOf(api);
    await browser.send('POST', '/api/account/sign-in', { email: 'dee@example.org', password: PASSWORD });
    return browser;
  };
  const [phone, tablet] = [await enter(), await enter()];
  const { items } = (await dee.get('/api/account/sessions')).body;
  expect(items.filter(({ isThis }: { isThis: boolean }) => isThis)).toHaveLength(1);
  expect(items).toHaveLength(3);
  const [own] = (await phone.get('/api/account/sessions')).body.items.filter(
    (one: { isThis: boolean }) => one.isThis,
  );
  expect((await dee.send('DELETE', `/api/account/sessions/${own.id}`)).status).toBe(204);
  expect((await phone.get('/api/sites')).status).toBe(401);
  expect((await tablet.get('/api/sites')).status).toBe(200);
  const before = dee.cookie;
  const change = (current: string) =>
    dee.send('POST', '/api/account/password', { current, password: 'nine blue kettles sing' });
  expect((await change('wrong wrong wrong')).status).toBe(400);
  expect((await change(PASSWORD)).status).toBe(204);
  expect(dee.cookie).not.toBe(before);
  expect((await dee.get('/api/sites')).status).toBe(200);
  expect((await tablet.get('/api/sites')).status).toBe(401);
});

test('a token is told once, has no more rights than were given to it, and ends when it is revoked', async () => {
  const ask = { name: 'reports', role: 'viewer', sites: ['rowan'], days: 30 };
  const { body } = await ada.send('POST', '/api/account/tokens', ask);
  const bearer = { authorization: `Bearer ${body.secret}` };
  expect((await api.send('GET', '/api/sites/rowan', undefined, bearer)).status).toBe(200);
  expect((await api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' }, bearer)).status).toBe(403);
  expect((await api.send('GET', '/api/account/tokens', undefined, bearer)).status).toBe(403);
  const listed = (await ada.get('/api/account/tokens')).body.items;
  expect(JSON.stringify(listed)).not.toContain(body.secret);
  expect(listed[0]).toMatchObject({ name: 'reports', role: 'viewer', sites: ['rowan'] });
  expect((await ada.send('DELETE', `/api/account/tokens/${body.token.id}`)).status).toBe(204);
  expect((await api.send('GET', '/api/sites/rowan', undefined, bearer)).status).toBe(401);
});

test('a token sinks with its person’s rights', async () => {
  const eve = await invite(api, ada, {
    name: 'Eve Brandt',
    email: 'eve@example.org',
    role: 'engineer',
    sites: null,
  });
  const over = { name: 'x', role: 'administrator', sites: null, days: 1 };
  expect((await eve.send('POST', '/api/account/tokens', over)).body.faults[0].pointer).toBe('/role');
  const { body } = await eve.send('POST', '/api/account/tokens', { ...over, role: 'engineer' });
  const put = () =>
    api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' }, { authorization: `Bearer ${body.secret}` });
  expect((await put()).status).toBe(200);
  const change = (more: object) =>
    ada.send('PUT', `/api/people/${eve.id}`, {
      name: 'Eve Brandt',
      role: 'viewer',
      sites: null,
      isClosed: false,
      ...more,
    });
  await change({});
  expect((await put()).status).toBe(403);
  await change({ role: 'engineer', isClosed: true });
  expect((await put()).status).toBe(401);
  expect((await eve.get('/api/sites')).status).toBe(401);
  const { email } = { email: 'eve@example.org' };
  expect((await eve.send('POST', '/api/account/sign-in', { email, password: PASSWORD })).status).toBe(401);
});

test('the last administrator can’t be shut out or given less', async () => {
  const me = (await ada.get('/api/account')).body.actor.id;
  const change = { name: 'Ada Quist', role: 'engineer', sites: null, isClosed: false };
  expect((await ada.send('PUT', `/api/people/${me}`, change)).status).toBe(409);
  const shut = { ...change, role: 'administrator', isClosed: true };
  expect((await ada.send('PUT', `/api/people/${me}`, shut)).status).toBe(409);
  const scoped = { name: 'F', email: 'f@example.org', role: 'administrator', sites: ['rowan'] };
  expect((await ada.send('POST', '/api/people', scoped)).body.faults[0].pointer).toBe('/sites');
});

test('every change has its row in the audit trail: who, when, what, from where, and how it ended', async () => {
  const { items } = (await ada.get('/api/audit?limit=1000')).body;
  const row = (path: string, method = 'POST') =>
    items.filter((one: { path: string; method: string }) => one.path === path && one.method === method);
  expect(row('/api/sites/rowan', 'PUT').at(-1)).toMatchObject({
    actor: { kind: 'machine', name: 'this machine' },
    address: '127.0.0.1',
    action: 'change-sites',
    site: 'rowan',
    status: 201,
    detail: { from: 'always' },
  });
  const statuses = row('/api/account/sign-in').map(({ status, actor }: never) => [
    status,
    (actor as { name: string }).name,
  ]);
  expect(statuses).toContainEqual([401, '']);
  expect(statuses).toContainEqual([200, 'Ada Quist']);
  const refused = row('/api/sites/rowan', 'PUT').filter(({ status }: { status: number }) => status === 403);
  expect(refused.length).toBeGreaterThan(0);
  expect(refused[0].actor.kind).toBe('token');
  expect(JSON.stringify(items)).not.toMatch(/h[slt]_[\w-]{43}|herons|kettles|\$argon2/);
});

test('no password, session, link or token lies in the database as it is', async () => {
  const { rows } = await wholeDatabase(api);
  expect(rows).not.toMatch(/h[slt]_[\w-]{43}|herons|kettles/);
  expect(rows).toContain('$argon2id$v=19$m=19456,t=2,p=1$');
});

async function wholeDatabase({ store }: ApiServer): Promise<{ rows: string }> {
  const texts: string[] = [];
  for (const table of ['people', 'sessions', 'account_links', 'api_tokens', 'failed_attempts', 'audit']) {
    const found = await store.database.many<{ row: string }>({
      name: '',
      text: `select t::text as row from ${table} t`,
    });
    texts.push(...found.map(({ row }) => row));
  }
  return { rows: texts.join('\n') };
}
