import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { storeMonth } from '../fixtures/alarm-month.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { CHECKED, type Look, LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/** The pages of whoever looks after the alarms themselves: how they perform, and what is set. */
let api: ApiServer;
beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await storeMonth(api);
});
afterAll(() => api.stop());

async function open(page: Page, path: string): Promise<void> {
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

test.each(CHECKED)(
  '$width wide, $ground: a rule is set for one unit, within its bounds, by whom is kept',
  async (look) => {
    await api.send('PUT', '/api/sites/oak/alarm-settings', { rules: [] });
    const browser = await openBrowser(look);
    const page = await browser.newPage();
    await open(page, '/sites/oak/alarm-settings');
    await page
      .getByRole('heading', { level: 1, name: /^All \d+ alarm rules are as usual here\.$/ })
      .waitFor();
    await page.getByLabel('Set for').selectOption('unit-1');
    const rule = page.getByRole('group', { name: 'No control power' });
    const delay = rule.getByLabel(/^raised after/);
    await delay.fill('9000');
    await delay.blur();
    await page.getByText('Left unit, No control power: on-delay 60 s → 9000 s').waitFor();
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('Give seconds from 0 to 600.').waitFor();
    await delay.fill('90');
    await delay.blur();
    await isWell(page, 'alarm-settings', look);
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    const changed = '1 setting of the alarm rules is other than usual here.';
    await page.getByRole('heading', { level: 1, name: changed }).waitFor();
    await page.getByText('this machine: Left unit, No control power: on-delay 60 s → 90 s').first().waitFor();
    expect((await api.get('/api/sites/oak/alarm-settings')).body.rules).toEqual([
      { rule: 'unit-power-loss', unit: 'unit-1', onDelaySeconds: 90 },
    ]);
    await browser.close();
  },
);

test('a policy is changed and given to a site; work is ended from the list of alarms', async () => {
  const browser = await openBrowser(LOOKS[3]!);
  const page = await browser.newPage();
  const { people } = (await api.get('/api/on-call')).body as { people: { id: string }[] };
  const to = [{ kind: 'person', id: people[0]!.id }];
  const night = { from: '22:00', to: '07:00', alwaysAtOnce: false };
  const document = { steps: [{ to, waitSeconds: 300 }], repeats: 1, fallback: to, night };
  await api.send('POST', '/api/policies', { name: 'all', document, isDefault: true, sites: [] });
  await open(page, '/on-call');
  await page.getByText('Change it').click();
  await page.getByLabel(/^for/).first().fill('10');
  await page.getByRole('checkbox', { name: 'Oak Street' }).first().check();
  await isWell(page, 'policy', LOOKS[3]!);
  await page.getByRole('button', { name: 'Save the change' }).click();
  await page.getByText('10 min to answer').waitFor();
  const { items } = (await api.get('/api/policies')).body as {
    items: { sites: string[]; pages: number[] }[];
  };
  expect(items).toMatchObject([{ sites: ['oak'], pages: [0, 600] }]);

  await api.send('POST', '/api/sites/oak/work', { units: ['unit-2'], minutes: 60 });
  await open(page, '/alarms');
  await page.getByText('this machine at').waitFor();
  await isWell(page, 'works', LOOKS[3]!);
  await page.getByRole('button', { name: 'End it now' }).click();
  await expect.poll(async () => (await api.get('/api/alarms?site=oak')).body.works).toEqual([]);
  await page.getByText('this machine at').waitFor({ state: 'detached' });
  await browser.close();
});
