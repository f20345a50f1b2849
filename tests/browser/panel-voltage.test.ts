import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { writeRecording } from '../fixtures/recorder-file.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { CHECKED, openBrowser } from './chromium.ts';
import { commit } from '../fixtures/commit.ts';
import { caughtUp } from '../fixtures/follow-store.ts';
import { readDeviceIds } from '../../db/points.ts';
import { SECOND } from '../../shared/base/instant.ts';
import { faultsOf } from './faults.ts';
import { shooter } from './with-page.ts';

/**
 * From the site's page to what starts do to a panel's voltage, and a recorder's file taken in beside it, on the page of a real
 * server with the simulated school. PANEL_SHOTS names a folder for pictures.
 */
let api: ApiServer;
const shoot = shooter('PANEL_SHOTS');
const told = toldScenario('utility-outage');

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await storeTold(api, told);
});
afterAll(() => api?.stop());

const RATE = 3840;
const files = writeRecording({
  revision: 1999,
  format: 'BINARY',
  frequency: 60,
  analog: [
    {
      name: 'Vab',
      multiplier: 0.02,
      offset: 0,
      stored: Array.from({ length: RATE / 2 }, (_, i) => {
        const share = i >= RATE / 10 && i < RATE / 10 + (5 * RATE) / 60 ? 0.7 : 1;
        return Math.round(50 * share * 240 * Math.SQRT2 * Math.sin((2 * Math.PI * 60 * i) / RATE));
      }),
    },
  ],
  digital: [],
  samples: RATE / 2,
  rates: [{ perSecond: RATE, last: RATE / 2 - 1 }],
  stamps: Array.from({ length: RATE / 2 }, () => null),
  multiplier: 1,
  start: '03/06/2020,14:20:00.250000',
  trigger: '03/06/2020,14:20:00.350000',
});
/** The sag that the file shows, and the wave itself as a meter would have sent it. */
async function sagWithItsWave(site: string): Promise<string> {
  const { database } = api.store;
  const sag = (await caughtUp(database, site, 60_000)).find(
    ({ kind, panel, start }) =>
      kind === 'voltage-sag' && panel === 'panel-a' && start.latest < told.end - YEAR,
  )!;
  const { points } = await readDeviceIds(database, site);
  const values = Float32Array.from({ length: RATE / 4 }, (_, i) => {
    const share = i >= RATE / 10 && i < RATE / 10 + (5 * RATE) / 60 ? 0.7 : 1;
    return share * 240 * Math.SQRT2 * Math.sin((2 * Math.PI * 60 * i) / RATE);
  });
  const t = sag.start.latest - SECOND / 10;
  const wave = { pointId: points.get('panel-a/line-voltage')!, t, stepSeconds: 1 / RATE, scale: 1, values };
  await commit(database, { waveforms: [wave] });
  return sag.id;
}
const YEAR = 365 * 86_400 * SECOND;

const chosen = files.map(({ name, bytes }) => ({
  name,
  mimeType: 'application/octet-stream',
  buffer: Buffer.from(bytes),
}));

test.each(CHECKED)('starts on a panel and a recorder’s file, $width px, $ground', async (look) => {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  const errors: string[] = [];
  page.on('pageerror', (error) => errors.push(error.message));
  try {
    const { body } = await api.get('/api/sites');
    await page.goto(`${api.server.url}sites/${body.items[0].id}`);
    await page.getByRole('link', { name: 'Starts on this panel' }).first().click();
    const answer = page.locator('main h1');
    await page.getByText('before any work').waitFor();
    await expect.poll(() => answer.innerText()).toMatch(/starting together pull Panel A to 2\d\d/);
    await shoot(page, 'starts', look);
    expect(await faultsOf(page)).toEqual([]);
    await page.getByRole('link', { name: 'Take in a recorder’s file' }).click();
    await page.getByLabel('The recorder’s files').setInputFiles(chosen);
    await page.getByRole('button', { name: 'Take it in' }).waitFor();
    await expect
      .poll(() => answer.innerText())
      .toMatch(/^The file shows a sag on Panel A to 168 V \(70\.0 %\)/);
    await shoot(page, 'recording', look);
    expect(await faultsOf(page)).toEqual([]);
    await page.getByRole('button', { name: 'Take it in' }).click();
    await page.getByText(/^Taken in: |^It was taken in before/).waitFor();
    await page.getByText('taken in before', { exact: true }).waitFor();
    expect(await page.locator('main a[download]').first().getAttribute('href')).toMatch(
      /\/panel-a\/recordings\/[^/]+\/files\/0$/,
    );
    const sag = await sagWithItsWave(body.items[0].id);
    await page.goto(`${api.server.url}events/${sag}`);
    await page.getByText('Waveform', { exact: true }).click();
    await page.getByText('down to 70 % (168 V)').first().waitFor();
    expect(await page.locator('figure figcaption').innerText()).toMatch(/line voltage, volts, crest 339 V/);
    await page.locator('figure canvas, figure svg').first().waitFor();
    await shoot(page, 'waveform', look);
    expect(await faultsOf(page)).toEqual([]);
    expect(errors).toEqual([]);
  } finally {
    await browser.close();
  }
});
