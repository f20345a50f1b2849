import { mkdirSync, mkdtempSync, rmSync, writeFileSync } from 'node:fs';
import { request } from 'node:http';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import {
  ADMINISTRATOR,
  invite,
  openBrowserOf,
  PASSWORD,
  setUpAdministrator,
  type Browser,
} from '../fixtures/signed-in.ts';

/** Attacks on accounts, each tried on a whole server with a real PostgreSQL; the table of what came of it is printed. */
const folder = mkdtempSync(join(tmpdir(), 'holdoff-attacks-'));
const table: [attack: string, tried: string, came: string][] = [];
const note = (attack: string, tried: string, came: unknown) => table.push([attack, tried, String(came)]);

let api: ApiServer;
let ada: Browser;
beforeAll(async () => {
  mkdirSync(join(folder, 'page'));
  writeFileSync(join(folder, 'page', 'index.html'), '<!doctype html><title>page</title>');
  writeFileSync(join(folder, 'secret.txt'), 'SECRET');
  api = await startApi({ pageFolder: join(folder, 'page') });
  await api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' });
  ada = await setUpAdministrator(api);
});
afterAll(async () => {
  await api.stop();
  rmSync(folder, { recursive: true, force: true });
  const width = Math.max(...table.map(([attack]) => attack.length));
  console.log(
    table.map(([attack, tried, came]) => `${attack.padEnd(width)}  ${tried.padEnd(66)}  ${came}`).join('\n'),
  );
});

const sql = (text: string) => api.store.database.run(statement('', text));
const signIn = (email: string, password: string, browser = openBrowserOf(api)) =>
  browser.send('POST', '/api/account/sign-in', { email, password });
const forget = () => sql('delete from failed_attempts');

/** A request as it is written, from an address of one's own choice: `fetch` would put paths in order first. */
function raw(
  method: string,
  path: string,
  {
    headers = {},
    body = '',
    from = '127.0.0.1',
  }: { headers?: Record<string, string>; body?: string; from?: string } = {},
): Promise<{ status: number; text: string }> {
  return new Promise((resolve, reject) => {
    const sent = request(
      { host: '127.0.0.1', port: api.server.port, method, path, headers, localAddress: from },
      (response) => {
        let text = '';
        response.on('data', (piece: Buffer) => (text += piece.toString()));
        response.on('end', () => resolve({ status: response.statusCode ?? 0, text }));
      },
    );
    sent.on('error', reject);
    sent.end(body);
  });
}

test('session fixation: a planted session is never the one that is signed in, and ends', async () => {
  const attacker = await invite(api, ada, {
    name: 'Mal',
    email: 'mal@example.org',
    role: 'viewer',
    sites: [],
  });
  const planted = attacker.cookie!;
  const victim = openBrowserOf(api);
  victim.cookie = planted;
  await signIn(ADMINISTRATOR.email, PASSWORD, victim);
  expect(victim.cookie).not.toBe(planted);
  const after = await api.send('GET', '/api/people', undefined, { cookie: planted });
  expect(after.status).toBe(401);
  note('session fixation', 'a valid session planted in the victim’s browser before sign-in', after.status);
  const madeUp = `holdoff-session=hs_${'A'.repeat(43)}`;
  const other = openBrowserOf(api);
  other.cookie = madeUp;
  await signIn(ADMINISTRATOR.email, PASSWORD, other);
  expect(other.cookie).not.toBe(madeUp);
  const made = await api.send('GET', '/api/people', undefined, { cookie: madeUp });
  expect(made.status).toBe(401);
  note('session fixation', 'a made-up session planted before sign-in', made.status);
});

test.each([
  ['Origin of another site', { origin: 'https://elsewhere.example' }],
  ['Origin: null (a sandboxed frame)', { origin: 'null' }],
  ['Origin of another port of this host', { origin: 'http://127.0.0.1:1' }],
  ['Sec-Fetch-Site: cross-site', { 'sec-fetch-site': 'cross-site' }],
  ['Sec-Fetch-Site: same-site (a neighbouring host)', { 'sec-fetch-site': 'same-site' }],
  ['neither of them', { 'sec-fetch-site': '' }],
  ['a form’s text/plain', { 'sec-fetch-site': 'cross-site', 'content-type': 'text/plain' }],
])('CSRF: a change with the victim’s cookie and %s isn’t made', async (how, headers) => {
  const given = Object.fromEntries(
    Object.entries({ 'sec-fetch-site': undefined, ...headers }).filter(([, v]) => v),
  );
  const answer = await api.send(
    'PUT',
    '/api/sites/rowan',
    { timeZone: 'Europe/Oslo' },
    { cookie: ada.cookie!, ...(given as Record<string, string>) },
  );
  expect(answer.status).toBe(403);
  expect((await ada.get('/api/sites/rowan')).body.timeZone).toBe('UTC');
  note('CSRF', how, answer.status);
});

test('CSRF: nor can another page sign a browser in as somebody else, nor set up the first administrator', async () => {
  const headers = { 'sec-fetch-site': 'cross-site', origin: 'https://elsewhere.example' };
  const body = { email: ADMINISTRATOR.email, password: PASSWORD };
  const login = await api.send('POST', '/api/account/sign-in', body, headers);
  expect([login.status, login.headers.get('set-cookie')]).toEqual([403, null]);
  note('CSRF', 'signing the victim in from another page', login.status);
  const fresh = await startApi();
  try {
    const first = await fresh.send('POST', '/api/account/first-administrator', ADMINISTRATOR, headers);
    expect(first.status).toBe(403);
    note('CSRF', 'setting up the first administrator from another page', first.status);
    const put = await fresh.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' }, headers);
    expect(put.status).toBe(403);
    note('CSRF', 'a change on this machine before there are accounts, from another page', put.status);
  } finally {
    await fresh.stop();
  }
});

test('DNS rebinding: before there are accounts a foreign name that leads here is somebody else', async () => {
  const fresh = await startApi();
  try {
    const port = fresh.server.port;
    const answer = await new Promise<number>((resolve, reject) => {
      const headers = { host: `attacker.example:${port}` };
      request({ host: '127.0.0.1', port, path: '/api/sites', headers }, ({ statusCode }) =>
        resolve(statusCode ?? 0),
      )
        .on('error', reject)
        .end();
    });
    expect(answer).toBe(401);
    note('DNS rebinding', 'Host: attacker.example from loopback, nobody set up', answer);
  } finally {
    await fresh.stop();
  }
});

test('brute force: five in vain on one account from one address, however many come at once', async () => {
  await forget();
  const tries = await Promise.all(
    Array.from({ length: 40 }, (_, i) => signIn(ADMINISTRATOR.email, `wrong password ${i}`)),
  );
  const count = (status: number) => tries.filter((one) => one.status === status).length;
  expect([count(401), count(429)]).toEqual([5, 35]);
  note(
    'brute force',
    '40 passwords at once on one account',
    `${count(401)} looked at (401), ${count(429)} turned away (429)`,
  );
  const right = await signIn(ADMINISTRATOR.email, PASSWORD);
  expect(right.status).toBe(429);
  expect(Number(right.headers.get('retry-after'))).toBeGreaterThan(800);
  note(
    'brute force',
    'the right password from there after that',
    `${right.status}, Retry-After ${right.headers.get('retry-after')}`,
  );
  const headers = { 'content-type': 'application/json' };
  const body = JSON.stringify({ email: ADMINISTRATOR.email, password: PASSWORD });
  const owner = await raw('POST', '/api/account/sign-in', { headers, body, from: '127.0.0.2' });
  expect(owner.status).toBe(200);
  note('malicious lockout', 'the account’s owner from another address meanwhile', owner.status);
  await sql(`update failed_attempts set since = since - interval '15 minutes'`);
  expect((await signIn(ADMINISTRATOR.email, PASSWORD)).status).toBe(200);
  note('brute force', 'the right password 15 minutes later', 200);
});

test('brute force: thirty in vain from one address, over whatever accounts, links and names', async () => {
  await forget();
  const seen: number[] = [];
  for (let i = 0; i < 40; i++)
    seen.push((await signIn(`nobody-${i}@example.org`, 'a password of theirs')).status);
  expect(seen.filter((status) => status === 401)).toHaveLength(30);
  note('credential stuffing', '40 accounts from one address', '30 looked at (401), 10 turned away (429)');
  const link = await api.send('POST', '/api/account/link', { secret: 'hl_guess' });
  expect(link.status).toBe(429);
  note('brute force', 'guessing links from there after that', link.status);
  await forget();
  const rows = (await ada.get('/api/audit?limit=1000&action=sign-in')).body.items as { status: number }[];
  expect(rows.filter(({ status }) => status === 429)).toEqual([]); // who knocks without end fills no trail
});

test('brute force: whether an account exists can’t be told from the answer, nor well from its time', async () => {
  const took = async (email: string) => {
    const times: number[] = [];
    for (let i = 0; i < 8; i++) {
      await forget();
      const began = performance.now();
      const { status, body } = await signIn(email, 'not the password of anybody');
      times.push(performance.now() - began);
      expect([status, body.detail]).toEqual([401, 'That address and that password don’t belong together.']);
    }
    return times.sort((a, b) => a - b)[4]!;
  };
  await took('nobody@example.org');
  const [known, unknown] = [await took(ADMINISTRATOR.email), await took('nobody@example.org')];
  note(
    'enumeration',
    'median of 8: an account that exists, one that doesn’t',
    `${known.toFixed(0)} ms, ${unknown.toFixed(0)} ms`,
  );
  expect(unknown).toBeGreaterThan(known / 3);
});

test('replay: a session after sign-out, idle, at its end; a token expired; a link used or expired', async () => {
  await forget();
  const ben = await invite(api, ada, {
    name: 'Ben',
    email: 'ben@example.org',
    role: 'technician',
    sites: null,
  });
  const held = () => api.send('GET', '/api/sites', undefined, { cookie: ben.cookie! });
  const enter = () => signIn('ben@example.org', PASSWORD, ben);
  expect((await held()).status).toBe(200);
  const old = ben.cookie!;
  await ben.send('POST', '/api/account/sign-out');
  const out = await api.send('GET', '/api/sites', undefined, { cookie: old });
  expect(out.status).toBe(401);
  note('session replay', 'the cookie after sign-out', out.status);
  await enter();
  await sql(`update sessions set seen_at = seen_at - interval '97 hours'`);
  expect((await held()).status).toBe(401);
  note('session replay', 'unused for four days', 401);
  ada = openBrowserOf(api);
  await signIn(ADMINISTRATOR.email, PASSWORD, ada);
  await enter();
  await sql(`update sessions set ends_at = now() where person = '${ben.id}'`);
  expect((await held()).status).toBe(401);
  note('session replay', 'in use, at its longest', 401);
  await enter();
  const ask = { name: 'mine', role: 'technician', sites: null, days: 1 };
  const { secret } = (await ben.send('POST', '/api/account/tokens', ask)).body;
  const bearer = (token: string) =>
    api.send('GET', '/api/sites', undefined, { authorization: `Bearer ${token}` });
  expect((await bearer(secret)).status).toBe(200);
  await sql('update api_tokens set expires_at = now()');
  expect((await bearer(secret)).status).toBe(401);
  note('token replay', 'a token after its end', 401);
  const swapped = await bearer(ben.cookie!.split('=')[1]!);
  expect(swapped.status).toBe(401);
  note('token replay', 'a session’s secret sent as a token', swapped.status);
});

test('prefetch: a GET of whatever address changes nothing', async () => {
  const made = await ada.send('POST', '/api/people', {
    name: 'Cy',
    email: 'cy@example.org',
    role: 'viewer',
    sites: null,
  });
  const { secret } = made.body.link;
  for (const path of [
    '/welcome',
    `/welcome?${secret}`,
    '/api/account/link',
    '/api/account/link/use',
    '/api/account/sign-out',
  ])
    expect([200, 401, 405]).toContain((await api.send('GET', path)).status);
  const used = await api.send('POST', '/api/account/link/use', { secret, password: PASSWORD });
  expect(used.status).toBe(200);
  note('link prefetch', 'GET of the page and of every address of links, then the person', used.status);
  await api.send('POST', '/api/account/link', { secret });
  const again = await api.send('POST', '/api/account/link/use', { secret, password: PASSWORD });
  expect(again.status).toBe(404);
  note('link replay', 'the same link a second time', again.status);
  const late = (await ada.send('POST', `/api/people/${made.body.person.id}/link`)).body.secret;
  await sql('update account_links set expires_at = now()');
  const expired = await api.send('POST', '/api/account/link/use', { secret: late, password: PASSWORD });
  expect(expired.status).toBe(404);
  note('link replay', 'a link after its end', expired.status);
});

test('a link used twice at the same moment works once', async () => {
  await forget();
  const { body } = await ada.send('POST', '/api/people', {
    name: 'Di',
    email: 'di@example.org',
    role: 'viewer',
    sites: null,
  });
  const use = () =>
    api.send('POST', '/api/account/link/use', { secret: body.link.secret, password: PASSWORD });
  const statuses = (await Promise.all([use(), use(), use(), use()])).map(({ status }) => status).sort();
  expect(statuses).toEqual([200, 404, 404, 404]);
  note('link replay', 'four at once', statuses.join(', '));
});

test.each([
  '/../secret.txt',
  '/..%2fsecret.txt',
  '/%2e%2e/secret.txt',
  '/%2e%2e%2fsecret.txt',
  '/assets/..%2f..%2fsecret.txt',
  '/assets/....//secret.txt',
  '/..%5csecret.txt',
  '/%252e%252e%252fsecret.txt',
  '//secret.txt',
  '/secret.txt%00.html',
  '/api/../secret.txt',
  '/api/sites/..%2f..%2fsecret.txt',
])('path traversal: %s leads nowhere', async (path) => {
  const { status, text } = await raw('GET', path, { headers: { cookie: ada.cookie! } });
  expect(text).not.toContain('SECRET');
  expect(text).not.toContain(folder); // nor does it tell where it looked
  expect(status).toBeLessThan(500);
  note('path traversal', path, status);
});

test('path traversal: no encoding of a path gets round the guard', async () => {
  for (const path of [
    '/api//sites',
    '/API/sites',
    '/api/./sites',
    '/%61pi/sites',
    '/api/sites/',
    '/api%2fsites',
    '/x/../api/sites',
  ]) {
    const { status, text } = await raw('GET', path);
    expect([path, text.includes('rowan')]).toEqual([path, false]);
    note('guard', `${path} signed out`, text.includes('<title>page') ? `${status}, the page itself` : status);
  }
});

test('oversized: bodies, fields, addresses and headers past their bounds are turned away', async () => {
  const big = 'x'.repeat(5 * 1024 * 1024);
  const cases: [string, Promise<{ status: number }>, number[]][] = [
    [
      'a site’s document of 5 MiB',
      ada.send('PUT', '/api/sites/rowan', { timeZone: 'UTC', notes: big }),
      [413],
    ],
    ['20 KiB to sign in with', signIn('a@example.org', 'x'.repeat(20_000)), [413]],
    ['a password of 1,001 characters', signIn('a@example.org', 'x'.repeat(1001)), [400]],
    [
      'a name of 101 characters',
      ada.send('POST', '/api/people', {
        name: 'n'.repeat(101),
        email: 'n@example.org',
        role: 'viewer',
        sites: null,
      }),
      [400],
    ],
    [
      '1,001 sites for one person',
      ada.send('POST', '/api/people', {
        name: 'n',
        email: 'n@example.org',
        role: 'viewer',
        sites: Array.from({ length: 1001 }, (_, i) => `s${i}`),
      }),
      [400],
    ],
    ['an address of 20 KiB', raw('GET', `/api/sites/${'a'.repeat(20_000)}`), [404, 414, 431]],
    [
      'a cookie of 20 KiB',
      raw('GET', '/api/sites', { headers: { cookie: `holdoff-session=${'a'.repeat(20_000)}` } }),
      [431],
    ],
  ];
  for (const [tried, answer, allowed] of cases) {
    const { status } = await answer;
    expect([tried, allowed.includes(status)]).toEqual([tried, true]);
    note('oversized', tried, status);
  }
});

test('injection: names and notes are text, in answers, headers and the trail', async () => {
  await forget();
  const html = '<img src=x onerror=alert(1)>"\'&';
  await ada.send('PUT', '/api/sites/rowan', { timeZone: 'UTC', name: html, notes: html });
  const answer = await ada.get('/api/sites/rowan');
  expect(answer.body.name).toBe(html);
  expect([answer.type, answer.headers.get('x-content-type-options')]).toEqual([
    'application/json',
    'nosniff',
  ]);
  expect(answer.headers.get('cache-control')).toBe('no-store');
  const policy = (await ada.get('/')).headers.get('content-security-policy')!;
  expect(policy).toContain("script-src 'self'");
  expect(policy).not.toContain('unsafe');
  note(
    'HTML injection',
    'a site’s name and notes with markup',
    `${answer.type}, nosniff; script-src 'self' alone`,
  );
  for (const name of ['Ann\r\nBcc: all@example.org', 'Ann\u0000', '   ', 'Ann\u2028x']) {
    const { status } = await ada.send('POST', '/api/people', {
      name,
      email: 'ann@example.org',
      role: 'viewer',
      sites: null,
    });
    expect([name, status]).toEqual([name, 400]);
    note('header injection', `a person named ${JSON.stringify(name)}`, status);
  }
  for (const email of ['a@b\r\nBcc: c@d', 'a@b, c@d', '<a@b>', 'a b@c', 'a@b@c']) {
    const { status } = await ada.send('POST', '/api/people', {
      name: 'Ann',
      email,
      role: 'viewer',
      sites: null,
    });
    expect([email, status]).toEqual([email, 400]);
    note('header injection', `an address ${JSON.stringify(email)}`, status);
  }
  const sqlLike = await signIn(`' or 1=1 --@example.org`, `' or '1'='1`);
  expect(sqlLike.status).toBe(401);
  note('SQL injection', 'in address and password', sqlLike.status);
});

test('mass assignment: nobody gives themselves what a form doesn’t offer', async () => {
  await forget();
  const more = { name: 'E', email: 'e@example.org', role: 'viewer', sites: null, password: 'x', id: 'y' };
  expect((await ada.send('POST', '/api/people', more)).status).toBe(400);
  const raised = await signIn(ADMINISTRATOR.email, PASSWORD);
  expect(raised.status).toBe(200);
  const body = { email: ADMINISTRATOR.email, password: PASSWORD, role: 'administrator' };
  const extra = await api.send('POST', '/api/account/sign-in', body);
  expect(extra.status).toBe(400);
  note('mass assignment', 'a role with the sign-in, a password with an invitation', extra.status);
  const polluted = await api.send(
    'POST',
    '/api/account/sign-in',
    '{"__proto__":{"role":"administrator"},"email":"a@b","password":"x"}',
  );
  expect(polluted.status).toBe(400);
  note('prototype pollution', '"__proto__" in a body', polluted.status);
});
