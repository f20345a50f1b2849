import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import * as invented from './invented.ts';
import { LOOKS, openBrowser } from './chromium.ts';
import { servePage } from './page-server.ts';

/** `tsx tests/browser/invented-shots.ts [folder] [page …]`: the pages drawn from invented answers, for looking at. */
const [folder = '.cache/shots', ...asked] = process.argv.slice(2);
const PAGES: Record<string, string> = {
  board: '/',
  search: '/?q=room&state=waiting',
};
const answers: Record<string, (url: URL) => unknown> = {
  '/api/board': invented.board,
};

async function answer(page: Page): Promise<void> {
  await page.clock.install({ time: new Date(invented.NOW / 1000) });
  await page.route('**/live/**', (route) => route.abort());
  await page.route('**/api/**', (route) => {
    const url = new URL(route.request().url());
    const found = Object.entries(answers).find(([path]) => new RegExp(`^${path}$`).test(url.pathname));
    return found
      ? route.fulfill({ json: found[1](url) })
      : route.fulfill({ status: 404, json: { title: 'There is no such thing', detail: url.pathname } });
  });
}

mkdirSync(folder, { recursive: true });
const server = await servePage();
for (const look of LOOKS) {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  page.on(
    'console',
    (message) =>
      message.type() === 'error' && !/ERR_FAILED|404/.test(message.text()) && console.log(message.text()),
  );
  page.on('pageerror', (error) => console.log(error.message));
  await answer(page);
  for (const [name, path] of Object.entries(PAGES)) {
    if (asked.length > 0 && !asked.includes(name)) continue;
    await page.goto(`${server.url}${path}`);
    await page.locator('main h1').waitFor();
    await page.clock.runFor(200);
    await page.screenshot({ path: `${folder}/${name}-${look.width}-${look.ground}.png`, fullPage: true });
  }
  await browser.close();
}
await server.stop();
