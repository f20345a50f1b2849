import { AxeBuilder } from '@axe-core/playwright';
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { buildPage, PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import type { Script } from '../fixtures/control-run.ts';
import { commit } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { ADMINISTRATOR } from '../fixtures/signed-in.ts';
import { LOOKS, openBrowser, type Look } from './chromium.ts';

/**
 * The first night, on a phone of 390 px: first start, the administrator, a site, its alarm; accepted, on site, findings,
 * closed, watched. Everything that matters is read without scrolling, and a broken connection loses nothing and claims nothing.
 */
const PHONE: Look = { width: 390, ground: 'light' };
let api: ApiServer;
let browser: BrowserContext;
let page: Page;
let alarm: string;

beforeAll(async () => {
  await buildPage(new AbortController().signal);
  api = await startApi({ pageFolder: PAGE_FOLDER });
  browser = await openBrowser(PHONE);
  page = await browser.newPage();
  page.setDefaultTimeout(20_000);
}, 120_000);
afterAll(async () => {
  await browser?.close();
  await api?.stop();
});

const go = (path: string) => page.goto(new URL(path, api.server.url).href);
const answer = () => page.locator('main h1');
const press = (name: string | RegExp) => page.getByRole('button', { name, exact: typeof name === 'string' });

/** What the control did after the lockout, in seconds from then; told up to `to`. */
async function tell(script: Script, to: number): Promise<void> {
  const rows = rowsOf([...LOCKOUT, ...script.map(([s, inputs]) => [900 + s, inputs] as const)], 900 + to, -to);
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
  const { violations } = await new AxeBuilder({ page }).analyze();
  expect(violations.map(({ id, nodes }) => [id, nodes.map(({ html }) => html)])).toEqual([]);
  expect(await page.evaluate('document.documentElement.scrollWidth > window.innerWidth')).toBe(false);
  if (process.env['SHOTS'])
    await page.screenshot({ path: `${process.env['SHOTS']}/visit-${name}.png`, fullPage: true });
}

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
  await answer().filter({ hasText: /^Go now: / }).waitFor();
  await page.getByText('Nobody has it.').waitFor();
  for (const seen of [answer(), page.getByText('Nobody has it.'), page.getByText(/Room 12: Hard lockout/).first()])
    expect(await isSeenAtOnce(seen)).toBe(true);
  const accept = press('Accept');
  const box = (await accept.boundingBox())!;
  expect([box.height >= 56, box.y + box.height <= 844]).toEqual([true, true]);
  await expectNoFaults('free');
  // the second
  await accept.click();
  await page.getByText(`${ADMINISTRATOR.name} has it.`).waitFor();
});

test('on site the unit is in work, and the page asks whether one may leave', async () => {
  await press('On my way').click();
  await press('On site').click();
  await page.getByText(`In work by ${ADMINISTRATOR.name} until`).waitFor();
  await page.getByText('May I leave?').waitFor();
  await answer().filter({ hasText: 'Not yet: it still stands.' }).waitFor();
  await expectNoFaults('on-site');
});
