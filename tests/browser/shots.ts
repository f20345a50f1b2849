import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { endBrowser, LOOKS, openBrowser, type Look } from './chromium.ts';

/**
 * `npx tsx tests/browser/shots.ts <url> [folder] [page …]`: each page of a running server as it is drawn, at both widths,
 * light and dark.
 */
const [url = 'http://127.0.0.1:8080', folder = 'web/screenshots', ...asked] = process.argv.slice(2);
interface Listed {
  readonly items: readonly { readonly id: string; readonly unit: string | null; readonly site: string }[];
}

const get = async <A>(path: string): Promise<A> => (await (await fetch(`${url}/api${path}`)).json()) as A;
const lockout = (await get<Listed>('/events?kind=hard-lockout&limit=2000')).items.at(-1);
const site = lockout?.site ?? (await get<Listed>('/sites')).items[0]!.id;
const unit = lockout?.unit ?? 'unit-1';

const PAGES: Readonly<Record<string, string>> = {
  board: '/',
  site: `/sites/${site}?range=2h`,
  unit: `/sites/${site}/units/${unit}?range=2h`,
  'unit-week': `/sites/${site}/units/${unit}?range=7d`,
  ...(lockout ? { event: `/events/${lockout.id}` } : {}),
  rejected: '/rejected',
};

async function shoot(page: Page, name: string, look: Look): Promise<void> {
  await page.goto(`${url}${PAGES[name]}`);
  await page.locator('main h1').waitFor();
  const chart = page.locator('.chart');
  if (name !== 'board' && name !== 'rejected') {
    await chart.waitFor();
    await page.locator('.chart .steps[d^="M"]').first().waitFor({ state: 'attached' });
  }
  await page.evaluate('document.fonts.ready');
  const file = `${folder}/${name}-${look.width}-${look.ground}.png`;
  await page.screenshot({ path: file, fullPage: true });
  console.log(file);
}

mkdirSync(folder, { recursive: true });
for (const look of LOOKS) {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  page.on('pageerror', (error) =>
    console.log(`${look.width} ${look.ground}: ${error.stack ?? error.message}`),
  );
  page.on('console', (message) => message.type() === 'error' && console.log(message.text()));
  for (const name of Object.keys(PAGES))
    if (asked.length === 0 || asked.includes(name)) await shoot(page, name, look);
  await browser.close();
}
await endBrowser();
