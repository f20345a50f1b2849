import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { ADMINISTRATOR, PASSWORD } from '../fixtures/signed-in.ts';
import { CHECKED, LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/** A first start as two people live through it: she sets herself up and invites him; he looks, and no more. */
let api: ApiServer;
let [hers, his] = [null as unknown as BrowserContext, null as unknown as BrowserContext];
let [ada, ben] = [null as unknown as Page, null as unknown as Page];
const complaints: string[] = [];

const SITE = {
  name: 'Rowan <b>Street</b>',
  timeZone: 'UTC',
  panels: [{ id: 'panel-a' }],
  units: [
    { id: 'unit-1', panel: 'panel-a', points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }] },
  ],
};

async function openPage(browser: BrowserContext): Promise<Page> {
  const page = await browser.newPage();
  page.on('pageerror', (error) => complaints.push(error.message));
  page.on('console', (message) => {
    if (message.type() === 'error' && !/the server responded with a status of 4/.test(message.text()))
      complaints.push(message.text());
  });
  return page;
}
const go = (page: Page, path: string) => page.goto(new URL(path, api.server.url).href);
const answer = (page: Page) => page.locator('main h1');

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await api.send('PUT', '/api/sites/rowan', SITE);
  await api.send('PUT', '/api/sites/elm', { ...SITE, name: 'Elm' });
  [hers, his] = [await openBrowser(LOOKS[0]!), await openBrowser(LOOKS[2]!)];
  [ada, ben] = [await openPage(hers), await openPage(his)];
});
afterAll(async () => {
  await hers?.close();
  await his?.close();
  await api?.stop();
});

test('the first start shows everything without a sign-in, and says gently who is let in', async () => {
  await go(ada, '/');
  await answer(ada).waitFor();
  await ada
    .getByText('Nobody has an account yet: whoever sits at this machine may do everything here')
    .waitFor();
});

test('she sets herself up as the first administrator, by keyboard alone', async () => {
  await ada.getByRole('link', { name: 'Set up the first administrator' }).click();
  await answer(ada).filter({ hasText: 'Set up the first administrator.' }).waitFor();
  await ada.getByLabel('Your name').focus();
  await ada.keyboard.type(ADMINISTRATOR.name);
  await ada.keyboard.press('Tab');
  await ada.keyboard.type(ADMINISTRATOR.email);
  await ada.keyboard.press('Tab');
  await ada.keyboard.type('too short');
  await ada.keyboard.press('Enter');
  await ada.getByText('It has 9 characters: take 15 or more.').waitFor();
  await ada.getByLabel('Password', { exact: true }).fill(PASSWORD);
  await ada.keyboard.press('Enter');
  await ada.locator('header').getByRole('link', { name: ADMINISTRATOR.name }).waitFor();
  await expect.poll(() => new URL(ada.url()).pathname).toBe('/');
});

test('she signs out, and any address asks her to sign in again and then leads where it said', async () => {
  await go(ada, '/sites/rowan/edit/units/unit-1');
  await ada.getByLabel('Position', { exact: true }).fill('behind the bicycles');
  const unsaved = () => ada.evaluate("Object.keys(localStorage).filter((key) => key.startsWith('edit:'))");
  await expect.poll(unsaved).toEqual(['edit:rowan']);
  await ada.getByRole('button', { name: 'Sign out', exact: true }).click();
  await answer(ada).filter({ hasText: 'Sign in to see your sites.' }).waitFor();
  await go(ada, '/sites/rowan');
  await answer(ada).filter({ hasText: 'Sign in to see your sites.' }).waitFor();
  expect(await ada.locator('body').innerText()).not.toContain('Rowan');
  expect(await unsaved()).toEqual([]);
  await ada.getByLabel('E-mail address').fill(ADMINISTRATOR.email);
  await ada.getByLabel('Password', { exact: true }).fill('not my password at all');
  await ada.keyboard.press('Enter');
  await ada.getByText('That address and that password don’t belong together.').waitFor();
  await ada.getByLabel('Password', { exact: true }).fill(PASSWORD);
  await ada.keyboard.press('Enter');
  await ada.getByRole('link', { name: 'Rowan <b>Street</b>' }).first().waitFor();
  await expect.poll(() => new URL(ada.url()).pathname).toBe('/sites/rowan');
});

test('she invites a viewer for one site; with the link he chooses a password and sees that site alone', async () => {
  await go(ada, '/people');
  await ada.getByLabel('Name', { exact: true }).last().fill('Ben <i>Oyelaran</i>');
  await ada.getByLabel('E-mail address').fill('ben@example.org');
  await ada.getByLabel('Role').last().selectOption('viewer');
  await ada.getByLabel('only these').last().check();
  await ada.getByLabel('Rowan <b>Street</b>').last().check();
  await ada.getByRole('button', { name: 'Invite' }).click();
  const shown = ada.getByLabel('Link for Ben <i>Oyelaran</i>');
  await expect.poll(() => shown.inputValue()).toMatch(/\/welcome#hl_[\w-]{43}$/);
  const link = await shown.inputValue();
  await ben.goto(link);
  await answer(ben).filter({ hasText: 'Welcome, Ben <i>Oyelaran</i>. Choose a password.' }).waitFor();
  expect(ben.url()).not.toContain('#'); // the secret stays in no history
  await ben.getByLabel('Password', { exact: true }).fill(PASSWORD);
  await ben.getByRole('button', { name: 'Keep this password' }).click();
  await ben.locator('header').getByRole('link', { name: 'Ben <i>Oyelaran</i>' }).waitFor();
  await answer(ben).waitFor();
  expect(await ben.locator('body').innerText()).not.toContain('Elm');
  expect(await ben.locator('main b, main i, header i').count()).toBe(0); // names are text
});

test('a viewer sees no edit, and is told so where he goes by address', async () => {
  await go(ben, '/sites/rowan/units/unit-1');
  await answer(ben).waitFor();
  expect(await ben.getByRole('link', { name: 'Try other settings' }).count()).toBe(0);
  for (const name of ['People', 'Who changed what', 'Entries set aside'])
    expect(await ben.getByRole('link', { name }).count()).toBe(0);
  await go(ada, '/sites/rowan/units/unit-1');
  await ada.getByRole('link', { name: 'Try other settings' }).waitFor();
  await go(ben, '/people');
  await answer(ben).filter({ hasText: 'You may not look after people' }).waitFor();
  await go(ben, '/sites/elm');
  await answer(ben).filter({ hasText: 'There is no site "elm".' }).waitFor();
});

describe.each(CHECKED)('at $width px on $ground ground', (look) => {
  test('no page of accounts breaks a rule of axe or runs out of its width', async () => {
    const browser = await openBrowser(look);
    const faults: string[] = [];
    try {
      const page = await openPage(browser);
      const inspect = async (name: string) => {
        faults.push(...(await faultsOf(page)).map((fault) => `${name}: ${fault}`));
        if (process.env['SHOTS'])
          await page.screenshot({
            path: `${process.env['SHOTS']}/${name}-${look.width}-${look.ground}.png`,
            fullPage: true,
          });
      };
      await go(page, '/');
      await answer(page).waitFor();
      await inspect('sign-in');
      await go(page, '/welcome#used');
      await answer(page).waitFor();
      await inspect('welcome');
      await browser.addCookies(await hers.cookies());
      for (const name of ['account', 'people', 'audit', 'setup']) {
        await go(page, `/${name}`);
        await answer(page).waitFor();
        if (name === 'account') await page.getByText('Make a token').click();
        if (name === 'people') await page.locator('li summary').first().click();
        await inspect(name);
      }
    } finally {
      await browser.close();
    }
    expect(faults).toEqual([]);
  });
});

test('when she ends his sessions, his open page asks him to sign in, by itself', async () => {
  await go(ben, '/');
  await answer(ben).waitFor();
  await go(ada, '/people');
  await ada.locator('li summary', { hasText: 'Ben' }).click();
  await ada.getByRole('button', { name: 'sign out everywhere' }).last().click();
  await answer(ben).filter({ hasText: 'Sign in to see your sites.' }).waitFor();
});

test('nothing was refused by the page’s policy, and no script failed', () => {
  expect(complaints).toEqual([]);
});
