import { chmodSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startChild, type Child } from '../fixtures/child.ts';
import { until } from '../fixtures/until.ts';
import { CHECKED, LOOKS, openBrowser, type Look } from './chromium.ts';
import { faultsOf } from './faults.ts';
import { freePort } from './free-port.ts';
import { makeLockoutSite, SITE, UNITS, type LockoutSite } from './lockout-site.ts';

/** The page on a real server with the demonstration: everything in one process, as `npm start` has it. */
const folder = mkdtempSync(join(tmpdir(), 'holdoff-page-'));
let [url, server] = ['', null as unknown as Child];
let start: () => Promise<void>;
let site: LockoutSite;
let paths: Record<string, string>;

interface Listed {
  readonly items: readonly { readonly id: string; readonly unit: string | null; readonly site: string }[];
}
const get = async <A>(path: string): Promise<A> => (await (await fetch(`${url}/api${path}`)).json()) as A;

beforeAll(async () => {
  chmodSync(folder, 0o755); // the embedded PostgreSQL may run as another user, who must get in
  const [port, mqttPort] = [await freePort(), await freePort()];
  url = `http://127.0.0.1:${port}`;
  start = async () => {
    server = startChild('server/main.ts', {
      DATA_DIR: folder,
      PORT: String(port),
      MQTT_PORT: String(mqttPort),
    });
    await server.said(`Holdoff is at ${url}/`);
  };
  await start();
  site = await makeLockoutSite(url, `mqtt://127.0.0.1:${mqttPort}`);
  const lockouts = () => get<Listed>('/events?kind=hard-lockout&limit=2000');
  await until(lockouts, ({ items }) => items.some(({ site: of }) => of !== SITE), 300);
  await until(
    () => get<{ pending: number }>('/inference'),
    ({ pending }) => pending === 0,
    300,
  );
  const found = (await lockouts()).items.findLast(({ site: of }) => of !== SITE)!;
  paths = {
    board: '/',
    'board, searched': '/?q=unit&state=ready',
    site: `/sites/${found.site}?range=2h`,
    unit: `/sites/${found.site}/units/${found.unit}?range=2h`,
    'unit, a week, an event opened': `/sites/${found.site}/units/${found.unit}?range=7d&why=${found.id}`,
    event: `/events/${found.id}`,
    rejected: '/rejected',
    wiring: `/sites/${found.site}/wiring`,
    telemetry: '/telemetry',
    'telemetry of a site': `/telemetry?site=${found.site}`,
    'a point watched live': `/telemetry?site=${found.site}&q=control-voltage&watch=${found.unit}/control-voltage`,
    nowhere: '/nothing/here',
  };
});

afterAll(async () => {
  await site?.end();
  await server?.stop();
  rmSync(folder, { recursive: true, force: true });
});

async function withPage<A>(
  look: Look,
  work: (page: Page, browser: BrowserContext) => Promise<A>,
): Promise<A> {
  const browser = await openBrowser(look);
  try {
    return await work(await browser.newPage(), browser);
  } finally {
    await browser.close();
  }
}
const WIDE: Look = LOOKS[0]!;

async function open(page: Page, path: string): Promise<void> {
  await page.goto(`${url}${path}`);
  await page
    .locator('main h1')
    .waitFor()
    .catch(async () => {
      throw new Error(`${path} shows no answer, but: ${await page.locator('body').innerText()}`);
    });
  if (/^\/(sites|events)\//.test(path) && !path.endsWith('/wiring'))
    await page.locator('.chart .steps[d^="M"]').first().waitFor({ state: 'attached' });
}

describe('from the building to the board', () => {
  /** notes in the page itself when a unit's line first says "Hard lockout" */
  const WATCH = `(() => {
    const seen = (window.seenAt = {});
    const look = () => {
      for (const line of document.querySelectorAll('li.unit')) {
        const name = line.querySelector('a').textContent;
        if (!seen[name] && line.textContent.includes('Hard lockout')) seen[name] = Date.now();
      }
    };
    new MutationObserver(look).observe(document.querySelector('main'), { subtree: true, childList: true, characterData: true });
  })()`;

  test('a hard lockout is on the board less than a second after its message was sent, p95 of 20', async () => {
    await withPage(WIDE, async (page) => {
      await open(page, '/?q=page+test');
      await page
        .locator('li.unit')
        .nth(UNITS.length - 1)
        .waitFor();
      await page.evaluate(WATCH);
      const took: number[] = [];
      for (const unit of UNITS.slice(0, 20)) {
        expect(await page.locator('li.unit', { hasText: 'Hard lockout' }).count()).toBe(took.length);
        const sent = await site.lockOut(unit);
        const seen = await until(
          () => page.evaluate<number | null>(`window.seenAt['${unit}'] ?? null`),
          (at) => at !== null,
          60,
        );
        took.push(seen! - sent);
      }
      const sorted = took.toSorted((a, b) => a - b);
      console.log(
        `MQTT message to board: median ${sorted[9]} ms, p95 ${sorted[18]} ms, most ${sorted[19]} ms (20 lockouts)`,
      );
      expect(sorted[18]).toBeLessThan(1000);
    });
  });

  test('a soft lockout counts down on server time, second by second, and freezes when nothing new is heard', async () => {
    await withPage(WIDE, async (page) => {
      const unit = UNITS.at(-1)!;
      await site.softStop(unit, 5);
      await open(page, `/?q=${unit}`);
      const line = page.locator('li.unit', { hasText: 'retries in' }).first();
      await line.waitFor();
      const left = async (): Promise<number> => {
        const [, minutes, seconds] = /retries in (\d+):(\d\d)/.exec((await line.textContent()) ?? '')!;
        return Number(minutes) * 60 + Number(seconds);
      };
      const drawn = await left();
      const seen = [await until(left, (now) => now !== drawn, 30)]; // from its first step on: the page is drawn by then
      while (seen.length < 4) seen.push(await until(left, (now) => now !== seen.at(-1), 30));
      expect(seen).toEqual(seen.map((_, i) => seen[0]! - i));
      expect(seen[0]).toBeGreaterThan(180);
      await page.locator('li.unit', { hasText: 'not live' }).first().waitFor();
      const [text] = await page.locator('li.unit', { hasText: 'not live' }).allTextContents();
      expect(text).toMatch(/retries in \d:\d\d, as of \d\d:\d\d; not live/);
    });
  });
});

describe('the manager', () => {
  test.each(LOOKS.filter(({ ground }) => ground === 'light'))(
    'has the answer with no press, at $width px',
    async (look) => {
      await withPage(look, async (page) => {
        await open(page, '/');
        const answer = page.locator('h1');
        expect(await answer.textContent()).toMatch(
          /^\d+ of \d+ rooms have cooling.*(needs? someone|nobody is needed|known)/,
        );
        const box = (await answer.boundingBox())!;
        expect(box.y + box.height).toBeLessThan(page.viewportSize()!.height);
      });
    },
  );
  test('finds any of 1,000 units within a second, and waits for them hardly longer than for one site’s', async () => {
    await withPage(WIDE, async (page) => {
      const { thousandUnits } = await import('./invented.ts');
      const thousand = thousandUnits();
      const few = { ...thousand, sites: thousand.sites.slice(0, 1) };
      const drawn = async (json: typeof few): Promise<number> => {
        await page.unroute('**/api/board');
        await page.route('**/api/board', (route) => route.fulfill({ json }));
        const begin = performance.now();
        await open(page, '/');
        return performance.now() - begin;
      };
      await drawn(few); // the page’s own files are read once
      const took: [few: number, thousand: number][] = [];
      for (let i = 0; i < 3; i++) took.push([await drawn(few), await drawn(thousand)]);
      const ratio = took.map(([little, much]) => much / little).toSorted((a, b) => a - b)[1]!;
      await page.getByRole('searchbox').fill('site 37 room 19');
      const typed = performance.now();
      await until(
        () => page.locator('li.unit').count(),
        (count) => count === 1,
        60,
      );
      const found = performance.now() - typed;
      console.log(
        `board of 1,000 units: drawn in ${ratio.toFixed(2)} × the time of ${few.sites[0]!.units.length}, one found in ${Math.round(found)} ms`,
      );
      const drawnIn = took.map(([, much]) => much).toSorted((a, b) => a - b)[1]!;
      expect(ratio).toBeLessThan(5);
      expect(drawnIn).toBeLessThan(2500);
      expect(found).toBeLessThan(1000);
    });
  });
});

describe('the unit’s page', () => {
  test('draws a week', async () => {
    await withPage(WIDE, async (page) => {
      await open(page, '/');
      const begin = performance.now();
      await open(page, paths['unit, a week, an event opened']!);
      console.log(`a unit’s week drawn after ${Math.round(performance.now() - begin)} ms`);
      const edges = await page
        .locator('.chart .steps')
        .evaluateAll((paths) => paths.map((path) => path.getAttribute('d')?.split('V').length ?? 0));
      expect(Math.max(...edges)).toBeGreaterThan(100);
      expect(await page.locator('.chart .grid .rule').count()).toBeGreaterThanOrEqual(6);
    });
  });
  test('is moved and read by keys', async () => {
    await withPage(WIDE, async (page) => {
      await open(page, paths['unit']!);
      const chart = page.getByRole('application');
      await chart.focus();
      await page.keyboard.press('Comma');
      await until(
        () => page.getByRole('status').last().textContent(),
        (text) => /compressor output (on|off)/.test(text ?? ''),
        60,
      );
      await page.keyboard.press('Shift+ArrowLeft');
      await until(
        async () => page.url(),
        (href) => href.includes('from='),
        60,
      );
      await page.keyboard.press('End');
      await until(
        async () => page.url(),
        (href) => href.includes('range=2h'),
        60,
      );
      await page.keyboard.press('+');
      await until(
        async () => page.url(),
        (href) => href.includes('from='),
        60,
      );
    });
  });
  test('opens an event’s why in place, and from the address', async () => {
    await withPage(WIDE, async (page) => {
      await open(page, paths['unit, a week, an event opened']!);
      await page.getByRole('heading', { name: 'What was seen' }).waitFor();
      await page.getByRole('button', { name: 'show on the chart' }).click();
      await until(
        async () => page.url(),
        (href) => href.includes('from='),
        60,
      );
    });
  });
});

describe.concurrent.each(CHECKED)('at $width px on $ground ground', (look) => {
  test('no page breaks a rule of axe, runs out of its width, or is refused anything by its policy', async () => {
    await withPage(look, async (page) => {
      const complaints: string[] = [];
      page.on('console', (message) => {
        if (message.type() === 'error') complaints.push(message.text());
      });
      page.on('pageerror', (error) => complaints.push(error.message));
      const faults: string[] = [];
      for (const [name, path] of Object.entries(paths)) {
        await open(page, path);
        faults.push(...(await faultsOf(page)).map((fault) => `${name}: ${fault}`));
      }
      expect(faults).toEqual([]);
      expect(complaints).toEqual([]);
    });
  });
});

describe('when the server goes away and comes back', () => {
  test('the page says which link is down, its countdowns stand still, and it goes on by itself with the new process', async () => {
    await withPage(WIDE, async (page) => {
      await open(page, '/');
      const head = page.locator('header').first();
      await head.getByText('live,').waitFor();
      await server.stop();
      await head.getByText('not live: this page has lost the server').waitFor();
      expect(await page.locator('h1').textContent()).toMatch(/^As of \d\d:\d\d, not live: /);
      await start();
      await head.getByText(/^live, \d+ s old/).waitFor();
      await until(
        () => page.locator('h1').textContent(),
        (text) => !text!.includes('not live'),
        60,
      );
    });
  });
});

test('what happened since the last look is told on the next', async () => {
  await withPage(WIDE, async (page, browser) => {
    const hourAgo = (Date.now() - 3_600_000) * 1000;
    await browser.addInitScript(`localStorage.setItem('looked', '${hourAgo}')`);
    await open(page, '/');
    const told = await page.getByText('Since you last looked').textContent();
    expect(told).toMatch(/Since you last looked, \w+ \d+ \w+\s+\d\d:\d\d: .*lockout/);
  });
});

test('the demonstration goes by one press, which says before what goes and what stays', async () => {
  await withPage(LOOKS[3]!, async (page) => {
    await page.goto(`${url}/start`);
    await page.getByRole('button', { name: 'Remove the demonstration …' }).click();
    const section = page.getByRole('region', { name: 'The demonstration' });
    expect(await section.innerText()).toMatch(
      /Goes: .*\(simulated\).*: samples, events, alarms and their notices/,
    );
    await section.getByText('Stays: every other site, people, who is on call.').waitFor();
    await shoot(page, 'remove-demo');
    expect(await faultsOf(page)).toEqual([]);
    await page.getByRole('button', { name: 'Remove it now' }).click();
    await section.getByText(/^Removed: /).waitFor({ timeout: 60_000 });
    const { items } = await get<{ items: { id: string }[] }>('/sites');
    expect(items.map(({ id }) => id)).toEqual([SITE]);
    await open(page, '/');
    expect(await page.getByText('simulated').count()).toBe(0);
  });
});

/** PAGE_SHOTS names a folder for pictures. */
async function shoot(page: Page, name: string): Promise<void> {
  const to = process.env['PAGE_SHOTS'];
  if (to !== undefined) await page.screenshot({ path: join(to, `${name}.png`), fullPage: true });
}
