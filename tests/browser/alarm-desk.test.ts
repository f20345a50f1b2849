import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { buildPage, PAGE_FOLDER } from '../../server/build-page.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { at, document, liveMonth, record, tellMonth } from '../fixtures/alarm-month.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit } from '../fixtures/follow-store.ts';
import { addPerson, reach } from '../fixtures/on-call-store.ts';
import { CHECKED, openBrowser, type Look } from './chromium.ts';
import { faultsOf } from './faults.ts';

/** The pages of whoever looks after the alarms themselves: how they perform, and what is set. */
let api: ApiServer;
beforeAll(async () => {
  await buildPage(new AbortController().signal);
  api = await startApi({ pageFolder: PAGE_FOLDER });
  const { database } = api.store;
  expect((await api.send('PUT', '/api/sites/oak', document)).status).toBe(201);
  await commit(database, 'oak', record(), [{ from: at(-26 * 86_400), to: at(0) }]);
  const events = await caughtUp(database, 'oak');
  const parsed = parseConfiguration('oak', document);
  if (!parsed.ok) throw new Error('faults');
  const ann = await addPerson(database, 'ann');
  const channel = await reach(database, ann, 'e-mail', 'ann@example.org');
  const raised = await liveMonth(database, { site: parsed.site, events, by: 'ann' });
  await tellMonth(database, 'oak', raised, { person: ann, channel });
}, 120_000);
afterAll(() => api.stop());

async function open(page: Page, path: string): Promise<void> {
  page.setDefaultTimeout(20_000);
  await page.goto(new URL(path, api.server.url).href);
}

/** Nothing that axe finds, nothing too wide; a picture where one is asked for. */
async function isWell(page: Page, name: string, look: Look): Promise<void> {
  expect(await faultsOf(page)).toEqual([]);
  if (process.env['SHOTS'])
    await page.screenshot({
      path: `${process.env['SHOTS']}/${name}-${look.width}-${look.ground}.png`,
      fullPage: true,
    });
}

test.each(CHECKED)('$width wide, $ground: how alarms perform', async (look) => {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  await open(page, '/alarms/performance?site=oak');
  const first = '8 alarms asked for somebody in 30 days; beyond target: fleeting alarms.';
  await page.getByRole('heading', { level: 1, name: first }).waitFor();
  // one press from the figure to the alarms that it was counted from
  await page.getByText('Fleeting: over within 10 s').first().click();
  await page
    .locator('details[open]')
    .getByRole('link', { name: 'Left unit: No control power' })
    .first()
    .waitFor();
  await page.getByText('an on-delay of 90 s (now 60 s) would have avoided 6 of 8').waitFor();
  await isWell(page, 'performance', look);
  await browser.close();
});
