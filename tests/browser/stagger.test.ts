import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { seconds } from '../../shared/base/instant.ts';
import { SCHOOL } from '../../shared/building/scenarios/school.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { START } from '../fixtures/building-run.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { beforeTurning, TURNED_AT } from '../fixtures/two-outages.ts';
import { LOOKS, type Look } from './chromium.ts';
import { faultsOf } from './faults.ts';
import { withPage } from './with-page.ts';

/**
 * From the list of panels that restart together to a proposal, and on the phone to what was set: on the page of a real server.
 * Presses are counted. STAGGER_SHOTS names a folder for pictures.
 */
let api: ApiServer;
let clock = START + seconds(TURNED_AT - 600);
beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER, clock: () => clock });
  await storeTold(api, beforeTurning());
});
afterAll(() => api?.stop());

/** Nothing that axe finds, nothing too wide; a picture where one is asked for. */
async function isWell(page: Page, name: string, look: Look): Promise<void> {
  const folder = process.env['STAGGER_SHOTS'];
  if (folder !== undefined) {
    mkdirSync(folder, { recursive: true });
    await page.screenshot({ path: `${folder}/${name}-${look.width}-${look.ground}.png`, fullPage: true });
  }
  expect(await faultsOf(page)).toEqual([]);
}

test('the engineer: from the list to an agreed proposal in three presses, and what it would have done', async () => {
  const look = LOOKS[0]!;
  await withPage(look, async (page) => {
    let presses = 0;
    const press = async (role: 'link' | 'button', name: string | RegExp) => {
      await page.getByRole(role, { name }).first().click();
      presses++;
    };
    await page.goto(new URL('/stagger', api.server.url).href);
    await page
      .getByRole('heading', {
        level: 1,
        name: '1 panel restarts together; 1 visit would keep 1 start apart.',
      })
      .waitFor();
    await isWell(page, 'list', look);
    await press('link', 'Panel B');
    await page
      .getByRole('heading', { level: 1, name: /^Setting .* keeps all starts at least 2.* apart/ })
      .waitFor();
    await page.getByText(/Cooling returns up to \d+ s later after an outage/).waitFor();
    await press('button', 'Propose this');
    await press('button', 'Agree');
    expect(presses).toBeLessThanOrEqual(4);
    await page.getByText(/agreed by /).waitFor();
    await press('button', 'Replay the last restarts with what is proposed');
    const restarts = page.locator('section', { hasText: 'What it would have done' });
    await restarts.getByRole('heading', { name: 'replayed with what is proposed' }).waitFor();
    await expect
      .poll(() => restarts.innerText())
      .toMatch(/Room 6, Room 7: 0–0\.4 s, together[^]*Room 6, Room 7: [34]\.\d–[45]\.\d s, apart/);
    await isWell(page, 'plan', look);
  });
});

test('the technician, on a phone in the dark: what the dials show is written down, and stands', async () => {
  const look = LOOKS[3]!;
  clock = START + seconds(TURNED_AT);
  await withPage(look, async (page) => {
    await page.goto(new URL(`/sites/${SCHOOL}`, api.server.url).href);
    await page.getByText('Keep its starts apart').last().click();
    await page.getByText('This is the proposal that is open', { exact: false }).waitFor();
    const form = page.locator('form', { hasText: 'Read each delay back' });
    await form.waitFor();
    await isWell(page, 'read-back', look);
    const asked = await form.locator('label').allInnerTexts();
    for (const [i, text] of asked.entries())
      await form
        .locator('input')
        .nth(i)
        .fill(/\((\d+) s was asked for\)/.exec(text)![1]!);
    await form.getByRole('button', { name: 'Write down what was set' }).click();
    await page.getByText('set; the next restart will show whether it is kept').waitFor();
    await page
      .getByRole('heading', { level: 1, name: /^Nothing is to be set: it keeps all starts/ })
      .waitFor();
    await isWell(page, 'set', look);
    await page.goto(new URL('/stagger', api.server.url).href);
    await page.getByText('set; the next restart will show whether it is kept').waitFor();
    await isWell(page, 'list', look);
  });
});
