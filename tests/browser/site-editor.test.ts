import { mkdirSync } from 'node:fs';
import type { BrowserContext, Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { lockSubjects, unlockSubjects } from '../../db/follow-work.ts';
import { readDeviceIds } from '../../db/points.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * A site is changed on a phone: a fault is shown at its field, what changes is read before it is saved, somebody else saves
 * meanwhile, and what was saved is gone back to. EDITOR_SHOTS names a folder for pictures.
 */
let api: ApiServer;
let browser: BrowserContext;
let page: Page;
const complaints: string[] = [];

const SITE = {
  name: 'Rowan Street',
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a', name: 'Panel A' }],
  units: [
    {
      id: 'unit-1',
      name: 'Room 12',
      panel: 'panel-a',
      points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }],
    },
  ],
};

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await api.send('PUT', '/api/sites/rowan', SITE);
  browser = await openBrowser(LOOKS[2]!);
  page = await browser.newPage();
  if (process.env['EDITOR_SHOTS']) page.setDefaultTimeout(30_000);
  page.on('pageerror', (error) => complaints.push(error.message));
});
afterAll(async () => {
  await browser?.close();
  await api?.stop();
});

const go = (path: string) => page.goto(new URL(path, api.server.url).href);
const answer = (text: string | RegExp) => page.getByRole('heading', { level: 1, name: text });
const link = (name: string | RegExp) => page.getByRole('link', { name }).first();

async function isWell(name: string): Promise<void> {
  const folder = process.env['EDITOR_SHOTS'];
  if (folder !== undefined) {
    mkdirSync(folder, { recursive: true });
    await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
  }
  expect(await faultsOf(page)).toEqual([]);
}

test('the parts of a site open to their inputs, and what is assumed is said', async () => {
  await go('/sites/rowan/edit');
  await answer('Rowan Street: nothing is changed.').waitFor();
  await isWell('index');
  await link('Room 12').click();
  await answer('Unit: Room 12').waitFor();
  expect(
    await page.getByLabel('Off-cycle delay (delay on break)', { exact: true }).getAttribute('placeholder'),
  ).toBe('assumed: 210 s');
  await page.getByRole('button', { name: 'About “Off-cycle delay (delay on break)”' }).click();
  await page.getByText('Read it from the dial or the switches of the control').first().waitFor();
});

test('a fault is shown at its field, and nothing typed is lost by a reload', async () => {
  const delay = () => page.getByLabel('Off-cycle delay (delay on break)', { exact: true });
  await delay().fill('20');
  await page.getByText('Give 30 or more.').waitFor();
  expect(await delay().getAttribute('aria-invalid')).toBe('true');
  await isWell('fault');
  await page.reload();
  await page.getByText('Give 30 or more.').waitFor();
  expect(await delay().inputValue()).toBe('20');
  await link('All parts').click();
  await answer('Rowan Street: one change isn’t saved; one thing is to be set right.').waitFor();
  await page.getByRole('region', { name: 'To be set right' }).getByRole('link').click();
  await expect.poll(() => page.locator(':focus').getAttribute('id')).toBe(await delay().getAttribute('id'));
  await delay().fill('180');
  await expect.poll(() => page.getByText('Give 30 or more.').count()).toBe(0);
});

test('a point is added by what it means', async () => {
  await page.getByLabel('Add a point').selectOption('high-pressure switch');
  const point = page.getByRole('group', { name: 'high-pressure switch' });
  await point.getByLabel('Sensed where', { exact: true }).selectOption('by a contact of its own');
  await isWell('point');
});

test('what changes is read before it is saved, with what saving does', async () => {
  await link('Look at the changes and save').click();
  await answer('2 changes.').waitFor();
  await page.getByText('Off-cycle delay (delay on break): assumed 210 s → 180 s').waitFor();
  await page.getByText('Unit Room 12 (unit-1), high-pressure switch').waitFor();
  await page.getByLabel('since always: what was recorded was wrong').check();
  await page.getByText('Nothing was heard since then').waitFor();
  await page.getByText(/It takes the place of the document from always/).waitFor();
  await isWell('save');
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await answer('Rowan Street is saved.').waitFor();
  await page.getByText('All that was heard so far is inferred under what is saved.').waitFor();
  const { body } = await api.get('/api/sites/rowan');
  expect(body.units[0].protection).toEqual({ offDelay: 180 });
  expect(body.units[0].points[2]).toEqual({
    signal: 'high-pressure',
    reporting: { mode: 'on-change' },
    sense: 'isolated',
  });
});

test('somebody else saves meanwhile: both changes are read, and mine go on top of theirs', async () => {
  await go('/sites/rowan/edit/units/unit-1');
  await page.getByLabel('Position', { exact: true }).fill('left of two');
  const theirs = (await api.get('/api/sites/rowan')).body;
  theirs.units[0].filter = '16 × 25, two';
  await api.send('PUT', '/api/sites/rowan?from=always', theirs);
  await link('Look at the changes and save').click();
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await answer(/saved this site on .*, while your changes weren’t saved\./).waitFor();
  await page.getByText('Filter: not recorded → “16 × 25, two”').waitFor();
  await isWell('conflict');
  await page.getByRole('button', { name: 'Put my changes on top of theirs' }).click();
  await page.getByText('Position: not recorded → “left of two”').waitFor();
  await page.getByLabel('since always: what was recorded was wrong').check();
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await answer('Rowan Street is saved.').waitFor();
  const { body } = await api.get('/api/sites/rowan');
  expect(body.units[0]).toMatchObject({ filter: '16 × 25, two', position: 'left of two' });
});

test('what was saved before is read, and gone back to as another document', async () => {
  await link('What was saved before').click();
  await answer('Saved 4 times.').waitFor();
  await isWell('history');
  await page.getByRole('list').locator('a').last().click();
  await page.getByText('Another has taken its place since.').waitFor();
  await page.getByText('Off-cycle delay (delay on break): 180 s → assumed 210 s').waitFor();
  await page.getByRole('button', { name: 'Go back to this …' }).click();
  await page.getByLabel('since always: what was recorded was wrong').check();
  await page.getByRole('button', { name: 'Save', exact: true }).click();
  await answer('Rowan Street is saved.').waitFor();
  expect((await api.get('/api/sites/rowan')).body).toEqual(SITE);
  expect(complaints).toEqual([]);
});

test('what is inferred again is seen as it goes on, and stopped: the earlier document and its events are back', async () => {
  const told = toldScenario('utility-outage');
  const { site } = told.building;
  await storeTold(api, told);
  const { database } = api.store;
  const events = async () =>
    (await api.get(`/api/events?site=${site}&limit=2000`)).body.items
      .map(({ id, kind, cause, start }: Record<string, unknown>) => ({ id, kind, cause, start }))
      .sort((a: { id: string }, b: { id: string }) => (a.id < b.id ? -1 : 1));
  const [before, eventsBefore] = [(await api.get(`/api/sites/${site}`)).body, await events()];
  expect(eventsBefore.length).toBeGreaterThan(20);
  const pending = async () => (await api.get(`/api/inference?site=${site}`)).body.pending as number;

  await go(`/sites/${site}/edit/units/unit-1`);
  await page.getByLabel('Off-cycle delay (delay on break)', { exact: true }).fill('299');
  await link('Look at the changes and save').click();
  await page.getByLabel('since always: what was recorded was wrong').check();
  await page.getByText(/is inferred again, about .* samples/).waitFor();
  const { subjects } = await readDeviceIds(database, site);
  // held as by another server that is at work on them, so that there is something to be seen
  await database.session(async (session) => {
    const held = [...subjects].filter(([name]) => name !== 'unit/unit-2').map(([, id]) => id);
    for (const id of held) await expect.poll(() => lockSubjects(session, [id])).toEqual([id]);
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    const bar = page.getByRole('progressbar', { name: 'Inferred again' });
    await bar.waitFor();
    await expect
      .poll(() => bar.evaluate((element) => (element as unknown as { value: number }).value))
      .toBeGreaterThan(0);
    await page
      .getByText(/What was heard before is being inferred again: \d+ of \d+ steps\s+are left\./)
      .waitFor();
    await isWell('inferring');
    await page.getByRole('button', { name: 'Stop: put the earlier document back' }).click();
    await expect
      .poll(() => page.getByRole('button', { name: 'Stop: put the earlier document back' }).count())
      .toBe(0);
    expect((await api.get(`/api/sites/${site}`)).body).toEqual(before);
    expect(await pending()).toBeGreaterThan(0);
    await unlockSubjects(session, held);
  });
  await page.getByText('All that was heard so far is inferred under what is saved.').waitFor();
  await expect.poll(pending).toBe(0);
  expect(await events()).toEqual(eventsBefore);
  expect(complaints).toEqual([]);
});
