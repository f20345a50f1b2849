import { expect, test } from 'vitest';
import { wayOf, type Asked } from '../../web/src/worker/kept-reads.ts';

/** Which requests the service worker touches at all: a short list, and everything else goes past it. */
const get = (path: string, more: Partial<Asked> = {}): Asked => ({
  method: 'GET',
  isOwn: true,
  isNavigation: false,
  path,
  hasAuthorization: false,
  ...more,
});

test.each([
  '/api/account',
  '/api/alarms',
  '/api/alarms/1f0a',
  '/api/alarms/1f0a/visits',
  '/api/tasks',
  '/api/events/1f0a',
  '/api/sites',
  '/api/sites/rowan/status',
  '/api/sites/rowan/units/unit-1',
  '/api/sites/rowan/proof',
  '/api/sites/rowan/proof/1f0a',
])('%s may be read again while the server is away', (path) => {
  expect(wayOf(get(path))).toBe('read');
  expect(wayOf(get(path, { method: 'POST' }))).toBe('past');
  expect(wayOf(get(path, { method: 'HEAD' }))).toBe('past');
  expect(wayOf(get(path, { hasAuthorization: true }))).toBe('past');
  expect(wayOf(get(path, { isOwn: false }))).toBe('past');
});

test.each([
  '/api/account/tokens',
  '/api/account/sessions',
  '/api/people',
  '/api/people/1f0a/channels',
  '/api/audit',
  '/api/sites/rowan',
  '/api/sites/rowan/contacts',
  '/api/rosters/1f0a',
  '/api/samples',
  '/api/openapi.json',
  '/a/1-abcdefghijklmnop',
  '/on-call/1f0a/abcdefghijklmnop.ics',
  '/metrics',
])('%s is never kept', (path) => {
  expect(wayOf(get(path))).toBe('past');
  expect(wayOf(get(path, { isNavigation: true }))).toBe('past');
});

test.each(['sign-in', 'sign-out', 'first-administrator', 'link/use', 'provider/start'])(
  'after POST /api/account/%s nothing is there that was kept before',
  (name) => {
    expect(wayOf(get(`/api/account/${name}`, { method: 'POST' }))).toBe('changes-reader');
  },
);

test('coming back from a provider of identities changes the reader too', () => {
  expect(wayOf(get('/api/account/provider/callback', { isNavigation: true }))).toBe('changes-reader');
});

test('places of the page are answered by the page, and its files from where they lie', () => {
  expect(wayOf(get('/alarms/1f0a', { isNavigation: true }))).toBe('place');
  expect(wayOf(get('/', { isNavigation: true }))).toBe('place');
  expect(wayOf(get('/assets/index-1f0a.js'))).toBe('file');
});
