import { afterAll, beforeAll, expect, test } from 'vitest';
import { freePort } from '../browser/free-port.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import {
  OIDC_CLIENT,
  startIdentityProvider,
  type IdentityProviderServer,
} from '../fixtures/identity-provider.ts';
import { openBrowserOf, setUpAdministrator, type Browser } from '../fixtures/signed-in.ts';

/** Signing in at an organisation's provider of identities: a real one, asked over HTTP as a browser asks it. */
let api: ApiServer;
let provider: IdentityProviderServer;
let ada: Browser;

beforeAll(async () => {
  const port = await freePort();
  const publicUrl = `http://127.0.0.1:${port}`;
  provider = await startIdentityProvider(`${publicUrl}/api/account/provider/callback`);
  const settings = {
    issuer: provider.issuer,
    clientId: OIDC_CLIENT.id,
    clientSecret: OIDC_CLIENT.secret,
    name: 'the district',
    publicUrl,
  };
  api = await startApi({ port, provider: settings, level: 'silent' });
  ada = await setUpAdministrator(api);
});
afterAll(async () => {
  await api?.stop();
  await provider?.stop();
});

interface Trip {
  readonly status: number;
  readonly to: string | null;
  readonly cookies: readonly string[];
}

/** Everything that the browser keeps is in `jar`; `tamper` changes the address that the provider sends it back to. */
async function signInAs(
  account: string,
  jar: Map<string, string>,
  tamper: (back: URL) => void = () => {},
): Promise<Trip> {
  const cookie = () => [...jar].map(([name, value]) => `${name}=${value}`).join('; ');
  const keep = (headers: Headers) => {
    for (const set of headers.getSetCookie()) {
      const [name, value = ''] = set.split(';')[0]!.split(/=(.*)/s);
      if (set.includes('Max-Age=0')) jar.delete(name!);
      else jar.set(name!, value);
    }
  };
  const start = await api.send('POST', '/api/account/provider/start', undefined, {
    'sec-fetch-site': 'same-origin',
    cookie: cookie(),
  });
  expect(start.status).toBe(200);
  keep(start.headers);
  const back = await provider.visit(start.body.url, account);
  tamper(back);
  return returnTo(back, cookie(), keep);
}

async function returnTo(back: URL, cookie: string, keep: (headers: Headers) => void): Promise<Trip> {
  const answer = await fetch(back, {
    redirect: 'manual',
    headers: { cookie, 'sec-fetch-site': 'cross-site' },
  });
  keep(answer.headers);
  return {
    status: answer.status,
    to: answer.headers.get('location'),
    cookies: answer.headers.getSetCookie(),
  };
}

const invite = (email: string) =>
  ada.send('POST', '/api/people', { name: email, email, role: 'technician', sites: null });

test('the page is told that there is a provider, and what it is called', async () => {
  expect((await api.get('/api/account')).body.provider).toBe('the district');
});

test('whoever was invited signs in there, and needs no password here', async () => {
  await invite('ben@example.org');
  const jar = new Map<string, string>();
  const trip = await signInAs('ben', jar);
  expect([trip.status, trip.to]).toEqual([302, '/']);
  const session = trip.cookies.find((one) => one.startsWith('holdoff-session='))!;
  expect(session).toMatch(/HttpOnly; SameSite=Strict/);
  const browser = openBrowserOf(api);
  browser.cookie = session.split(';')[0]!;
  const { body } = await browser.get('/api/account');
  expect(body.actor).toMatchObject({ kind: 'person', name: 'ben@example.org', role: 'technician' });
  const rows = (await ada.get('/api/audit?action=sign-in&limit=5')).body.items as {
    path: string;
    actor: { name: string };
  }[];
  expect(rows.find(({ path }) => path.endsWith('/callback'))?.actor.name).toBe('ben@example.org');
});

test('the second time they are known by issuer and subject, whatever their address is then', async () => {
  const people = (await ada.get('/api/people')).body.items as { id: string; email: string }[];
  const ben = people.find(({ email }) => email === 'ben@example.org')!;
  await api.store.database.run({
    name: '',
    text: `update people set email = 'else@example.org' where id = '${ben.id}'`,
  });
  expect((await signInAs('ben', new Map())).to).toBe('/');
});

test.each([
  ['nobody invited them', 'stranger'],
  ['the provider hasn’t verified their address', 'unverified'],
])('refused: %s', async (_, account) => {
  if (account === 'unverified') await invite('unverified@example.org');
  const trip = await signInAs(account, new Map());
  expect([trip.status, trip.to]).toEqual([302, '/?sign-in=unknown']);
  expect(trip.cookies.some((one) => one.startsWith('holdoff-session='))).toBe(false);
});

test.each<[string, (back: URL) => void]>([
  ['another state', (back) => back.searchParams.set('state', 'x')],
  ['no state', (back) => back.searchParams.delete('state')],
  ['another code', (back) => back.searchParams.set('code', 'x')],
  ['another issuer', (back) => back.searchParams.set('iss', 'https://elsewhere.example')],
])('refused: the way back with %s', async (_, tamper) => {
  const trip = await signInAs('ben', new Map(), tamper);
  expect(trip.to).toBe('/?sign-in=failed');
});

test('refused: the way back of somebody else’s browser (login forgery), and the same way back twice', async () => {
  const start = await api.send('POST', '/api/account/provider/start', undefined, {
    'sec-fetch-site': 'same-origin',
  });
  const back = await provider.visit(start.body.url, 'ben');
  expect((await returnTo(back, '', () => {})).to).toBe('/?sign-in=failed');
  const own = start.headers.get('set-cookie')!.split(';')[0]!;
  expect((await returnTo(back, own, () => {})).to).toBe('/');
  expect((await returnTo(back, own, () => {})).to).toBe('/?sign-in=failed'); // the code was used
});

test('refused: an account that is shut here, and beginning from another site’s page', async () => {
  const people = (await ada.get('/api/people')).body.items as { id: string; email: string }[];
  const ben = people.find(({ email }) => email === 'else@example.org')!;
  await ada.send('PUT', `/api/people/${ben.id}`, {
    name: 'ben',
    role: 'technician',
    sites: null,
    isClosed: true,
  });
  expect((await signInAs('ben', new Map())).to).toBe('/?sign-in=unknown');
  const foreign = await api.send('POST', '/api/account/provider/start', undefined, {
    'sec-fetch-site': 'cross-site',
  });
  expect(foreign.status).toBe(403);
});
