import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import type { Script } from '../fixtures/control-run.ts';
import { commit } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { startProxy, type Proxy } from '../fixtures/proxy.ts';
import type { AlarmWithJournal } from '../../shared/wire/alarm-answer.ts';
import { ADMINISTRATOR } from '../fixtures/signed-in.ts';
import { LOOKS, openBrowser, type Look } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * The first night, on a phone of 390 px: first start, the administrator, a site, its alarm; accepted, on site, findings,
 * closed, watched. Everything that matters is read without scrolling, and a broken connection loses nothing and claims nothing.
 */
const PHONE: Look = { width: 390, ground: 'light' };
let api: ApiServer;
/** between the phone and the server: shut, nothing passes, whatever the browser makes of being offline */
let way: Proxy;
let browser: BrowserContext;
let page: Page;
let alarm: string;

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  way = await startProxy(Number(new URL(api.server.url).port));
  browser = await openBrowser(PHONE, 'America/Chicago', 'allow');
  page = await browser.newPage();
});
afterAll(async () => {
  await browser?.close();
  await way?.stop();
  await api?.stop();
});

const go = (path: string) => page.goto(`http://127.0.0.1:${way.port}${path}`);
const answer = () => page.locator('main h1');
const press = (name: string | RegExp) => page.getByRole('button', { name, exact: typeof name === 'string' });

/** What the control did after the lockout, in seconds from then; told up to `to`. */
async function tell(script: Script, to: number): Promise<void> {
  const rows = rowsOf(
    [...LOCKOUT, ...script.map(([s, inputs]) => [900 + s, inputs] as const)],
    900 + to,
    -to,
  );
  await commit(
    api.store.database,
    'rowan',
    [...told(rows.filter(({ t }) => t > at(0))), ...beats(0, to)],
    [{ from: at(-4000), to: at(to) }],
  );
}

/** Is it in the first screenful, where the bar doesn’t cover it. */
async function isSeenAtOnce(locator: ReturnType<Page['locator']>): Promise<boolean> {
  const box = await locator.boundingBox();
  return box !== null && box.y >= 0 && box.y + box.height <= 844 - 72;
}

async function expectNoFaults(name: string): Promise<void> {
  expect(await faultsOf(page)).toEqual([]);
  if (process.env['SHOTS']) await page.screenshot({ path: `${process.env['SHOTS']}/visit-${name}.png` });
}

const alarmNow = async (): Promise<AlarmWithJournal> =>
  (await page.request.get(new URL(`/api${alarm}`, api.server.url).href)).json() as Promise<AlarmWithJournal>;

test('first start, the administrator, a site, and its alarm', async () => {
  await go('/');
  await page.getByRole('link', { name: 'Set up the first administrator' }).click();
  await page.getByLabel('Your name').fill(ADMINISTRATOR.name);
  await page.getByLabel('E-mail address').fill(ADMINISTRATOR.email);
  await page.getByLabel('Password', { exact: true }).fill(ADMINISTRATOR.password);
  await page.keyboard.press('Enter');
  await page.locator('header').getByRole('link', { name: ADMINISTRATOR.name }).waitFor();
  const put = await page.request.put(new URL('/api/sites/rowan', api.server.url).href, {
    data: document(210),
    headers: { 'sec-fetch-site': 'same-origin' },
  });
  expect(put.status()).toBe(201);
  await commit(
    api.store.database,
    'rowan',
    [...told(rowsOf(LOCKOUT, 900, 0)), ...beats(-900, 0)],
    [{ from: at(-4000), to: at(0) }],
  );
  await go('/alarms');
  const link = page.getByRole('link', { name: /^Room 12: Hard lockout/ });
  await link.waitFor();
  alarm = new URL((await link.getAttribute('href'))!, api.server.url).pathname;
});

test('the link of a notice, one press more, and it is accepted: two presses', async () => {
  // the first press is the link in the message
  await go(alarm);
  await page.evaluate('navigator.serviceWorker.ready.then(() => true)');
  await expect.poll(() => page.evaluate('navigator.serviceWorker.controller !== null')).toBe(true);
  await answer()
    .filter({ hasText: /^Go now: / })
    .waitFor();
  await page.getByText('Nobody has it, and nobody is told').waitFor();
  for (const seen of [
    answer(),
    page.getByText('Nobody has it, and nobody is told'),
    page.getByText(/Room 12: Hard lockout/).first(),
  ])
    await expect.poll(() => isSeenAtOnce(seen)).toBe(true);
  const accept = press('Accept');
  const boxOfAccept = async () => {
    const box = (await accept.boundingBox())!;
    return [box.height >= 56, box.y + box.height <= 844];
  };
  await expect.poll(boxOfAccept).toEqual([true, true]);
  await expectNoFaults('free');
  // the second; nothing reaches the server at first: it waits, it doesn’t look done, and it is sent once
  await expect
    .poll(() =>
      page.evaluate(
        `Promise.all(['/api${alarm}/visit', '/api/account'].map((path) => caches.match(path))).then((all) => all.every(Boolean))`,
      ),
    )
    .toBe(true);
  way.shut();
  await browser.setOffline(true);
  await accept.click();
  await page.getByText('Accept: waiting to be sent').waitFor();
  await page.getByText('It isn’t accepted yet: until the server knows, others are called.').waitFor();
  expect(await page.getByText(`${ADMINISTRATOR.name} has it.`).count()).toBe(0);
  await page.reload();
  await page.getByText('The server can’t be reached. This is what this device kept').waitFor();
  await page.getByText('Outdoor coil blocked or dirty').first().waitFor();
  await page.getByText('Accept: waiting to be sent').waitFor();
  expect((await alarmNow()).state).toBe('B');
  await expectNoFaults('offline');
  way.open();
  await browser.setOffline(false);
  await page.getByText(`${ADMINISTRATOR.name} has it.`).waitFor();
  await page.getByText('Accept: waiting to be sent').waitFor({ state: 'detached' });
  const { state, ownerId, journal } = await alarmNow();
  expect([state, ownerId === null]).toEqual(['C', false]);
  expect(journal.filter(({ what }) => what === 'acknowledged')).toHaveLength(1);
});

test('on site the unit is in work, and the page asks whether one may leave', async () => {
  await press('On my way').click();
  await page.getByText(`${ADMINISTRATOR.name} is on the way`).waitFor();
  await press('On site').click();
  await page.getByText(`In work by ${ADMINISTRATOR.name} until`).waitFor();
  await page.getByText('May I leave?', { exact: true }).waitFor();
  await answer().filter({ hasText: 'Not yet: it still stands.' }).waitFor();
  await expectNoFaults('on-site');
});

test('findings are written down, it is closed, and its repair is watched: may I leave, without scrolling', async () => {
  await page.getByLabel('What the control showed before power was broken').fill('red lamp, two flashes');
  await page.getByLabel('Cause').selectOption('outdoor-fan');
  await page.getByLabel('What was done').fill('fan capacitor replaced');
  await page.getByLabel('Parts, one a line').fill('run capacitor 5 µF');
  await press('Add a reading').click();
  await page.getByLabel('Value').fill('2900');
  await press('Save findings').click();
  await page.getByText('Discharge pressure of 2900 psi can’t be (0 to 800 psi)').waitFor();
  await page.getByLabel('Measure').selectOption('kPa');
  await press('Save findings').click();
  await page.getByText('discharge pressure 2900 kPa').waitFor();

  // the disconnect opened and closed again: the lockout is over, the power-up delay runs
  await tell(
    [
      [30, { controlVoltage: 0, highPressureOpen: false }],
      [90, { controlVoltage: 26 }],
    ],
    120,
  );
  await press('Close').click();
  await answer()
    .filter({ hasText: /^Not yet: it hasn’t run since/ })
    .waitFor();
  await page.getByText('May I leave?', { exact: true }).waitFor();
  await expect.poll(() => isSeenAtOnce(answer())).toBe(true);

  // power-up delay 120 + 0.1 × 210 s: it starts at 90 + 141, and runs on
  await tell(
    [
      [30, { controlVoltage: 0, highPressureOpen: false }],
      [90, { controlVoltage: 26 }],
    ],
    500,
  );
  await answer()
    .filter({ hasText: /^Not yet: running .* last time; look again at / })
    .waitFor();
  await expect.poll(() => isSeenAtOnce(answer())).toBe(true);
  await tell(
    [
      [30, { controlVoltage: 0, highPressureOpen: false }],
      [90, { controlVoltage: 26 }],
    ],
    1800,
  );
  await answer()
    .filter({ hasText: /^Yes: it has run .* without a stop: holding\. We watch until / })
    .waitFor();
  await page.getByText('Holding doesn’t prove that the unit is safe.').waitFor();
  await expect.poll(() => isSeenAtOnce(answer())).toBe(true);
  await expectNoFaults('holding');
  await press('I leave').click();
  await page.getByText(`${ADMINISTRATOR.name} has left`).waitFor();
  await page.getByText(`${ADMINISTRATOR.name} had it.`).waitFor();
  expect(await press('I leave').count()).toBe(0);
});

test.each([LOOKS[1]!])('$width wide, $ground: nothing that axe finds, nothing too wide', async (look) => {
  await page.emulateMedia({ colorScheme: look.ground });
  await page.setViewportSize({ width: look.width, height: 900 });
  await answer().waitFor();
  await expectNoFaults(`${look.width}-${look.ground}`);
});
