import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import * as invented from './invented.ts';
import { cooling } from './invented-cooling.ts';
import * as site from './invented-site.ts';
import * as unit from './invented-unit.ts';
import { endBrowser, LOOKS, openBrowser } from './chromium.ts';
import { servePage } from './page-server.ts';

/** `tsx tests/browser/invented-shots.ts [folder] [page …]`: the pages drawn from invented answers, for looking at. */
const [folder = '.cache/shots', ...asked] = process.argv.slice(2);
const PAGES: Record<string, string> = {
  board: '/',
  search: '/?q=room&state=waiting',
  site: '/sites/harrow-lane?range=1h',
  shelter: '/sites/pine-ridge?range=1h',
  event: '/events/hard',
  rejected: '/rejected',
  unit: '/sites/pine-ridge/units/unit-2?range=1h&why=hard',
  week: '/sites/pine-ridge/units/unit-2?range=7d',
  close: '/sites/pine-ridge/units/unit-2?from=2026-03-03T19:44:00Z&to=2026-03-03T20:04:00Z',
};
const answers: Record<string, (url: URL) => unknown> = {
  '/api/account': () => ({
    actor: { kind: 'machine', id: 'this-machine', name: 'this machine', role: 'administrator', sites: null },
    email: null,
    isSetUp: false,
    firstAdministrator: 'here',
    provider: null,
  }),
  '/api/board': invented.board,
  '/api/sites/pine-ridge/units/unit-2': unit.unitView,
  '/api/series': site.series,
  '/api/events': (url) => ({
    items: url.searchParams.get('site') === 'harrow-lane' ? site.events() : unit.events(),
    cursor: null,
  }),
  '/api/events/hard': () => unit.events().at(-1),
  '/api/sites/[^/]+/cooling': cooling,
  '/api/sites/[^/]+/status': site.status,
  '/api/sites/[^/]+': site.document,
  '/api/rejected': site.rejected,
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
      message.type() === 'error' &&
      !/ERR_FAILED|404|WebSocket/.test(message.text()) &&
      console.log(message.text()),
  );
  page.on('pageerror', (error) => console.log(error.message));
  await answer(page);
  for (const [name, path] of Object.entries(PAGES)) {
    if (asked.length > 0 && !asked.includes(name)) continue;
    await page.goto(`${server.url}${path}`);
    await page.locator('main h1').waitFor();
    await page.clock.runFor(400);
    await page.waitForLoadState('networkidle');
    await page.clock.runFor(400);
    const file = `${folder}/${name}-${look.width}-${look.ground}`;
    await page.screenshot({ path: `${file}.png`, fullPage: true });
    const chart = page.locator('.chart');
    if ((await chart.count()) > 0) await chart.screenshot({ path: `${file}-chart.png` });
  }
  await browser.close();
}
await endBrowser();
await server.stop();
