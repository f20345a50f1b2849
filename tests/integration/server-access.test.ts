import { io } from 'socket.io-client';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { withoutCredentials } from '../../server/accounts/accounts.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';

const TOKEN = 'correct-horse-battery-staple-and-more';
const bearer = (token: string) => ({ authorization: `Bearer ${token}` });

let api: ApiServer;
beforeAll(async () => {
  api = await startApi({ token: TOKEN });
});
afterAll(() => api.stop());

/** what a GET tells whoever hasn’t signed in */
const OPEN = new Map([
  ['/api/health', 200],
  ['/api/ready', 200],
  ['/api/account', 200],
  ['/api/account/provider/callback', 404], // open to who comes back from a provider; none is set up here
]);

describe('with a token', () => {
  test('whoever holds it is let in', async () => {
    expect((await api.send('GET', '/api/sites', undefined, bearer(TOKEN))).status).toBe(200);
    const put = await api.send('PUT', '/api/sites/rowan', { timeZone: 'UTC' }, bearer(TOKEN));
    expect(put.status).toBe(201);
  });

  test.each([
    ['no token', {}],
    ['another token', bearer(`${TOKEN}x`)],
    ['another scheme', { authorization: `Basic ${TOKEN}` }],
    ['an empty token', bearer('')],
  ])('%s is turned away with a problem document, on loopback too', async (_, headers) => {
    const { status, type, body } = await api.send('GET', '/api/sites', undefined, headers);
    expect([status, type, body.code]).toEqual([401, 'application/problem+json', 'not-signed-in']);
  });

  test('every address of the API asks for it, but health, readiness and who one is', async () => {
    const { body } = await api.send('GET', '/api/openapi.json', undefined, bearer(TOKEN));
    for (const path of Object.keys(body.paths)) {
      const { status } = await api.get(path.replace(/\{[^}]+\}/g, 'rowan'));
      expect([path, status]).toEqual([path, OPEN.get(path) ?? 401]);
    }
  });

  test.each([
    ['none', {}, 'connect_error'],
    ['another', { token: 'x'.repeat(40) }, 'connect_error'],
    ['the token', { token: TOKEN }, 'connect'],
  ])('the live socket with %s: %s', async (_, auth, expected) => {
    const client = io(api.server.url, {
      path: '/live',
      transports: ['websocket'],
      reconnection: false,
      auth,
    });
    const happened = await new Promise<string>((resolve) => {
      client.on('connect', () => resolve('connect'));
      client.on('connect_error', () => resolve('connect_error'));
    });
    client.close();
    expect(happened).toBe(expected);
  });
});

test('without a token only this machine itself is let in', () => {
  const from = (address: string, host = 'localhost:8080', isForwarded = false) => {
    const asked = { authorization: undefined, session: null, address, host, isForwarded };
    const admission = withoutCredentials(null, asked, false);
    return 'asker' in admission ? admission.asker.actor.kind : admission.why;
  };
  expect(from('127.0.0.1')).toBe('machine');
  expect(from('::ffff:127.0.0.1', '[::1]:8080')).toBe('machine');
  expect(from('192.168.1.20')).toBe('not-loopback');
  // a page elsewhere whose name leads here, and a proxy on this machine, are somebody else
  expect(from('127.0.0.1', 'attacker.example:8080')).toBe('not-loopback');
  expect(from('127.0.0.1', 'localhost:8080', true)).toBe('not-loopback');
});
