import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { addPerson } from '../fixtures/on-call-store.ts';
import { CHECKED, LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/** The page of who is on call: a roster is made, two turns are swapped across a change of the clocks, a channel is tried. */
let api: ApiServer;
/** The server's clock begins in the last week of October 2026: New York's goes back an hour on 1 November. */
const BEGAN = Date.now();
const clock = () => (Date.parse('2026-10-27T15:00:00Z') + Date.now() - BEGAN) * 1000;
beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER, clock });
  await addPerson(api.store.database, 'Ann');
  await addPerson(api.store.database, 'Ben');
});
afterAll(() => api.stop());

test('a roster is made and its first two turns are swapped, across the end of summer time', async () => {
  const browser = await openBrowser(LOOKS[0]!, 'America/New_York');
  const page = await browser.newPage();
  await page.goto(new URL('/on-call', api.server.url).href);
  await page.getByRole('heading', { name: 'Nobody is on call: there is no roster yet.' }).waitFor();
  await page.getByText('There is no policy: nobody is told of any alarm.').waitFor();
  await page.getByText('A new roster').click();
  await page.getByLabel('Name', { exact: true }).first().fill('Field');
  for (const name of ['Ann', 'Ben']) await page.getByLabel('Add a person').selectOption({ label: name });
  await page.getByLabel('From the day').first().fill('2026-10-26');
  await page.getByLabel('Time zone').first().fill('America/New_York');
  await page.getByRole('button', { name: 'Save' }).first().click();
  const roster = page.getByRole('region', { name: /^Field/ });
  await roster.waitFor();
  const turns = async () =>
    (await roster.locator('ol li strong').allTextContents()).filter((who) => who !== 'Nobody');
  await expect.poll(async () => (await turns()).length).toBeGreaterThan(3);
  const before = await turns();
  // handed over at eight on the wall on both sides of the change, an hour later by the clock of the world
  const times = async () => (await roster.locator('ol li span:first-child').allTextContents()).slice(0, 2);
  const shown = [
    expect.stringMatching(/^Tue 27 Oct, 11:\d\d – Mon 2 Nov, 08:00$/), // the turn under way, from now
    'Mon 2 Nov, 08:00 – Mon 9 Nov, 08:00',
  ];
  await expect.poll(times).toEqual(shown);
  await roster.getByRole('button', { name: 'Swap …' }).first().click();
  await roster.getByRole('button', { name: 'with this one' }).nth(1).click();
  await expect.poll(async () => (await turns()).slice(0, 2)).toEqual([before[1], before[0]]);
  expect(await roster.getByText('stands in from').count()).toBe(2);
  expect(await times()).toEqual(shown);
  const [{ id }] = (await api.get('/api/on-call')).body.rosters as [{ id: string }];
  const told = (await api.get(`/api/rosters/${id}`)).body.turns as { to: string }[];
  expect(told.slice(0, 2).map(({ to }) => to)).toEqual([
    '2026-11-02T13:00:00.000Z',
    '2026-11-09T13:00:00.000Z',
  ]);
  await browser.close();
});

test.each(CHECKED)(
  '$width wide, $ground: nothing that axe finds, and nothing wider than the page',
  async (look) => {
    const browser = await openBrowser(look);
    const page = await browser.newPage();
    await page.goto(new URL('/on-call', api.server.url).href);
    await page.getByRole('heading', { level: 1, name: /on call/ }).waitFor();
    for (const summary of await page.locator('main summary').all()) await summary.click();
    const reached = page.getByRole('region', { name: 'How somebody is reached' });
    await reached.getByRole('combobox').first().selectOption({ label: 'Ann' });
    await page.getByRole('button', { name: 'Add', exact: true }).waitFor();
    expect(await faultsOf(page)).toEqual([]);
    if (process.env['SHOTS'])
      await page.screenshot({
        path: `${process.env['SHOTS']}/on-call-${look.width}-${look.ground}.png`,
        fullPage: true,
      });
    await browser.close();
  },
);
