import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { readPdf } from '../fixtures/pdf.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { CHECKED, LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * The engineer's way after an outage: from the list to the worst site, to where its delays are planned, and to paper.
 * SHOTS names a folder for pictures of it.
 */
let api: ApiServer;
const told = toldScenario('utility-outage', 3600);
beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER, clock: () => told.end });
  await storeTold(api, told);
});
afterAll(() => api.stop());

/** px, at 1440 and 390 wide alike */
const PAGE_HEIGHT = 5000;

async function open(page: Page, path: string): Promise<void> {
  await page.goto(new URL(path, api.server.url).href);
}

test('from the list to the worst site, its proposal and its paper in four presses', async () => {
  const browser = await openBrowser(LOOKS[0]!);
  const page = await browser.newPage();
  await open(page, '/power-events');
  await page.getByRole('heading', { level: 1, name: /the only power event in three months/ }).waitFor();
  await page.getByRole('link', { name: 'Outage', exact: true }).click(); // 1
  await page.getByText('Known for 1 of 1 site through 07:17; every gateway has delivered.').waitFor();
  await page.getByRole('button', { name: 'One restarted units together' }).click(); // a count is a filter
  await expect.poll(() => new URL(page.url()).searchParams.get('only')).toBe('together');
  await page.getByRole('link', { name: 'Harrow Lane School (simulated)', exact: true }).click(); // 2
  await page
    .getByRole('heading', { level: 1, name: /Room 6 and Room 7 restarted together on Panel B/ })
    .waitFor();
  const proposal = page.getByRole('link', { name: 'Panel B: set its delays apart' }); // 3 would follow it
  expect(await proposal.getAttribute('href')).toBe('/sites/harrow-lane/panels/panel-b/stagger');
  // each sentence opens what it leans on
  const sentences = page.locator('.sentences li');
  // what wasn't there ("Nothing latched out.") has no event: it leads to the table of what was looked at
  const [seen, links, looked] = await Promise.all(
    ['', ':has(a[href^="/events/"])', ':has(a[href="#units"])'].map((with_) =>
      page.locator(`.sentences li${with_}`).allInnerTexts(),
    ),
  );
  expect(links!.length).toBeGreaterThan(4);
  expect(looked!.map((text) => text.split('.')[0])).toEqual(['Nothing latched out']);
  expect(links!.length + looked!.length).toBe(seen!.length);
  await sentences.nth(0).getByText('24 pieces of evidence').click();
  await expect.poll(() => sentences.nth(0).locator('a[href^="/events/"]').count()).toBe(24);
  await page.locator('.chart .steps[d^="M"]').first().waitFor({ state: 'attached' });
  const paper = await page.getByRole('link', { name: 'On paper (PDF)' }).getAttribute('href'); // 4 would follow it
  const file = await fetch(new URL(paper!, api.server.url));
  const { text, pages } = readPdf(Buffer.from(await file.arrayBuffer()));
  expect(text).toContain('Started together: Room 6 and Room 7');
  expect(pages.every(({ coloured }) => !coloured)).toBe(true);
  await browser.close();
});

test.each(CHECKED)('$width wide, $ground: nothing that axe finds, nothing too wide', async (look) => {
  const { items } = (await api.get('/api/power-events')).body as { items: { id: string }[] };
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  const pages = { list: '', fleet: `/${items[0]!.id}?align=return`, site: `/${items[0]!.id}/harrow-lane` };
  for (const [name, path] of Object.entries(pages)) {
    await open(page, `/power-events${path}`);
    await page.locator('main h1').waitFor();
    if (name === 'site') {
      await page.locator('.chart .steps[d^="M"]').first().waitFor({ state: 'attached' });
      // the answer and what is to be done come first; on a phone the tables are folded behind their headings
      const height = await page.evaluate('document.documentElement.scrollHeight');
      expect(height).toBeLessThan(PAGE_HEIGHT);
    }
    expect(await faultsOf(page)).toEqual([]);
    if (process.env['SHOTS'])
      await page.screenshot({
        path: `${process.env['SHOTS']}/power-${name}-${look.width}-${look.ground}.png`,
        fullPage: true,
      });
  }
  await browser.close();
});
