import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { NO_NOTICES } from '../../server/notify/settings.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commit } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { policyOf, putDefaultPolicy } from '../fixtures/on-call-store.ts';
import { startPushService, type Device, type PushService } from '../fixtures/push-service.ts';
import { ADMINISTRATOR, PASSWORD, setUpAdministrator } from '../fixtures/signed-in.ts';
import { LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * The page as somebody has it who installed it on a phone: what was read can be read again where nothing reaches the
 * server, and says how old it is; nothing of it is left for whoever has the phone next.
 */
const ALARM = /Room 12: Hard lockout/;
const KEPT = /The server can’t be reached\. This is what this device kept: as of /;

let api: ApiServer;
let isUp = true;
let push: PushService;
let phone: Device;
let browser: BrowserContext;
let page: Page;
beforeAll(async () => {
  push = await startPushService();
  api = await startApi({ pageFolder: PAGE_FOLDER, notify: { ...NO_NOTICES, pushIsLocal: true } });
  const ada = await setUpAdministrator(api);
  const { id } = (await ada.get('/api/account')).body.actor as { id: string };
  await putDefaultPolicy(api.store.database, policyOf([id], []));
  phone = await push.device();
  const device = { kind: 'web-push', address: phone.endpoint, keys: phone.keys, label: 'a phone' };
  expect((await ada.send('POST', `/api/people/${id}/channels`, device)).status).toBe(201);
  await ada.send('PUT', '/api/sites/rowan', document(210));
  await commit(
    api.store.database,
    'rowan',
    [...told(rowsOf(LOCKOUT, 900, 0)), ...beats(-900, 0)],
    [{ from: at(-4000), to: at(0) }],
  );
  browser = await openBrowser(LOOKS[2]!, 'America/Chicago', 'allow');
  await browser.grantPermissions(['notifications'], { origin: new URL(api.server.url).origin });
  page = await browser.newPage();
});
afterAll(async () => {
  await browser?.close();
  if (isUp) await api?.server.stop();
  await api?.store.drop();
  await push?.stop();
});

const go = (path: string) => page.goto(new URL(path, api.server.url).href);

async function signIn(): Promise<void> {
  await page.getByLabel('E-mail address').fill(ADMINISTRATOR.email);
  await page.getByLabel('Password', { exact: true }).fill(PASSWORD);
  await page.keyboard.press('Enter');
  await page.getByRole('heading', { level: 1, name: /look at Harrow Lane now/ }).waitFor();
}

/** Addresses of what lies on this device, of the page's files as `/assets/…`. */
const kept = (): Promise<string[]> =>
  page.evaluate(`(async () => {
    const found = [];
    for (const name of await caches.keys())
      for (const { url } of await (await caches.open(name)).keys()) found.push(new URL(url).pathname);
    return found.map((path) => path.replace(/^\\/assets\\/.*/, '/assets/…')).sort();
  })()`);

const ofAnswers = (paths: string[]) => paths.filter((path) => path.startsWith('/api/'));

test('it can be installed', async () => {
  await go('/alarms');
  await page.evaluate('navigator.serviceWorker.ready.then(() => true)');
  await expect.poll(() => page.evaluate('navigator.serviceWorker.controller !== null')).toBe(true);
  // the first visit began before there was a worker, and yet what it leaves says who read it
  await expect.poll(kept).toContain('/api/account');
  const devtools = await browser.newCDPSession(page);
  const { errors, data } = (await devtools.send('Page.getAppManifest')) as { errors: object[]; data: string };
  expect(errors).toEqual([]);
  expect(JSON.parse(data)).toMatchObject({ name: 'Holdoff', display: 'standalone', start_url: '/alarms' });
  const { installabilityErrors } = await devtools.send('Page.getInstallabilityErrors');
  expect(installabilityErrors).toEqual([]);
  await expect.poll(kept).toContain('/manifest.webmanifest');
});

/**
 * The message is the one that the server sent for the lockout, as the stand-in of a push service read it. No push service is
 * reached from here, so the browser is handed it through its developer interface; and as a headless browser shows no
 * notification that one could touch, the worker is told of the touch by an event of the same name. As that event isn't the
 * browser's own, the worker isn't allowed to ask for more time with it, which it does last.
 */
test('a page is pushed, shown in its short form, and a touch opens the alarm', async () => {
  await signIn();
  // that it leaves the room short may be known a moment later: told as worse by a message of its own
  const title = /^Harrow Lane Room 12 hard lockout/;
  const first = () =>
    phone.waiting.find(({ text }) => title.test((JSON.parse(text) as { title: string }).title));
  await expect.poll(() => first() !== undefined).toBe(true);
  const { text } = first()!;
  const { origin } = new URL(api.server.url);
  const devtools = await browser.newCDPSession(page);
  const registered = new Promise<string>((found) => {
    devtools.on('ServiceWorker.workerRegistrationUpdated', ({ registrations }) => {
      const own = registrations.find(({ scopeURL }) => scopeURL.startsWith(origin));
      if (own) found(own.registrationId);
    });
  });
  await devtools.send('ServiceWorker.enable');
  const registrationId = await registered;
  await devtools.send('ServiceWorker.deliverPushMessage', { origin, registrationId, data: text });
  const [worker] = browser.serviceWorkers();
  const shown = (): Promise<{ title: string; body: string }[]> =>
    worker!.evaluate(
      'registration.getNotifications().then((all) => all.map(({ title, body }) => ({ title, body })))',
    );
  await expect.poll(shown).toMatchObject([{ title: expect.stringMatching(title) }]);
  expect((await shown())[0]!.body).not.toContain('http');
  await worker!.evaluate(`registration.getNotifications().then(([notification]) => {
    dispatchEvent(new NotificationEvent('notificationclick', { notification }));
  })`);
  await page.getByRole('heading', { level: 1, name: /^Go now: / }).waitFor();
  expect(new URL(page.url()).pathname).toBe(`/alarms/${(JSON.parse(text) as { alarm: string }).alarm}`);
  await expect.poll(shown).toEqual([]);
});

test('a device is subscribed by a press alone, and what this server can’t send says how it could', async () => {
  await go('/on-call');
  await page.getByText('a phone', { exact: true }).waitFor();
  await page.getByText('Switched off on this server: e-mail').waitFor();
  await page.getByRole('button', { name: 'Show messages on this device' }).waitFor();
  expect(await faultsOf(page)).toEqual([]);
  if (process.env['SHOTS'])
    await page.screenshot({ path: `${process.env['SHOTS']}/channels.png`, fullPage: true });
});

test('what is kept is what alarms are read from, and goes with whoever signs out', async () => {
  await go('/alarms');
  await page.getByRole('link', { name: ALARM }).click();
  await page.getByText(ALARM).first().waitFor();
  await page.getByRole('heading', { level: 1, name: /^Go now: / }).waitFor();
  const id = new URL(page.url()).pathname.split('/').at(-1)!;
  await expect.poll(async () => ofAnswers(await kept())).toContain(`/api/alarms/${id}/visit`);
  // others' pages are read too, and not kept
  await go('/account');
  await page.getByText('Where you are signed in').waitFor();
  for (const path of ofAnswers(await kept()))
    expect(path).toMatch(/^\/api\/(account|alarms(\/[^/]+){0,2}|tasks|sites(\/.*)?|events\/[^/]+)$/);
  await page.getByRole('button', { name: 'Sign out', exact: true }).click();
  await page.getByRole('heading', { level: 1, name: 'Sign in to see your sites.' }).waitFor();
  await expect
    .poll(async () => ofAnswers(await kept()).filter((path) => path !== '/api/account'))
    .toEqual([]);
  const who = () =>
    page.evaluate(
      `caches.match('/api/account').then((answer) => answer?.json()).then((answer) => answer?.actor ?? null)`,
    );
  await expect.poll(who).toBeNull();
});

test('where nothing reaches the server, what was read is there and says how old it is', async () => {
  await go('/alarms');
  await signIn();
  await page.getByRole('link', { name: ALARM }).click();
  await page.getByText(ALARM).first().waitFor();
  await page.getByRole('heading', { level: 1, name: /^Go now: / }).waitFor();
  const address = page.url();
  await expect.poll(async () => ofAnswers(await kept())).toContain(`/api${new URL(address).pathname}/visit`);
  await api.server.stop();
  isUp = false;
  await page.reload();
  await page.getByRole('heading', { level: 1, name: /^Go now: / }).waitFor();
  await page.getByText(ALARM).first().waitFor();
  await page.getByText(KEPT).waitFor();
  expect(await faultsOf(page)).toEqual([]);
  if (process.env['SHOTS']) await page.screenshot({ path: `${process.env['SHOTS']}/offline.png` });
  // what was never read isn't made up
  await go('/alarms/another');
  await page.getByText('The server can’t be reached from here.').waitFor();
});
