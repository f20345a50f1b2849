import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commit } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { CHECKED, LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * The list of alarms as whoever is on call has it in the hand: one unit has locked itself out, which leaves its room without
 * cooling. The first line says so with no press; acknowledging takes one.
 */
const FIRST_LINE = 'Somebody has to look at Harrow Lane now: one critical alarm nobody has acknowledged.';
const ON_IT = 'Somebody is on it: nothing is unacknowledged.';

let api: ApiServer;
beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  expect((await api.send('PUT', '/api/sites/rowan', document(210))).status).toBe(201);
  await commit(
    api.store.database,
    'rowan',
    [...told(rowsOf(LOCKOUT, 900, 0)), ...beats(-900, 0)],
    [{ from: at(-4000), to: at(0) }],
  );
});
afterAll(() => api.stop());

test.each(CHECKED)(
  '$width wide, $ground: read at a glance, nothing that axe finds, nothing too wide',
  async (look) => {
    const browser = await openBrowser(look);
    const page = await browser.newPage();
    await page.goto(new URL('/alarms', api.server.url).href);
    await page.getByRole('heading', { level: 1, name: FIRST_LINE }).waitFor();
    await page.getByRole('link', { name: /^Room 12: Hard lockout/ }).waitFor();
    // what the lockout explains is folded beneath it, and opens in one press
    await page.getByText('explains 1 more').click();
    await page.getByRole('link', { name: /: Cooling lost/ }).waitFor();
    expect(await faultsOf(page)).toEqual([]);
    const press = page.getByRole('button', { name: 'Acknowledge', exact: true });
    expect((await press.boundingBox())!.height).toBeGreaterThanOrEqual(48);
    if (process.env['SHOTS'])
      await page.screenshot({
        path: `${process.env['SHOTS']}/alarms-${look.width}-${look.ground}.png`,
        fullPage: true,
      });
    await browser.close();
  },
);

test('the sound for new alarms is off until somebody presses for it', async () => {
  const browser = await openBrowser(LOOKS[0]!);
  const page = await browser.newPage();
  await page.addInitScript(`
    globalThis.tones = 0;
    const start = OscillatorNode.prototype.start;
    OscillatorNode.prototype.start = function (at) { globalThis.tones += 1; return start.call(this, at); };
  `);
  await page.goto(new URL('/alarms', api.server.url).href);
  const button = page.getByRole('button', { name: 'Sound for new alarms' });
  await button.waitFor();
  expect([await button.getAttribute('aria-pressed'), await page.evaluate('tones')]).toEqual(['false', 0]);
  await button.click();
  const sounds = async () => [await button.getAttribute('aria-pressed'), await page.evaluate('tones')];
  await expect.poll(sounds).toEqual(['true', 1]);
  await button.click();
  await expect.poll(() => button.getAttribute('aria-pressed')).toBe('false');
  await browser.close();
});

test('one press acknowledges, everybody’s list knows it at once, and the journal says who', async () => {
  const browser = await openBrowser(LOOKS[0]!);
  const [mine, theirs] = [await browser.newPage(), await browser.newPage()];
  for (const page of [mine, theirs]) {
    await page.goto(new URL('/alarms', api.server.url).href);
    await page.getByRole('button', { name: 'Acknowledge', exact: true }).waitFor();
  }
  await mine.getByRole('button', { name: 'Acknowledge', exact: true }).click();
  for (const page of [mine, theirs]) await page.getByRole('heading', { level: 1, name: ON_IT }).waitFor();
  expect(await theirs.getByRole('button', { name: 'Acknowledge', exact: true }).count()).toBe(0);
  await mine.getByRole('link', { name: /^Room 12: Hard lockout/ }).click();
  await mine
    .getByText(/acknowledged/i)
    .first()
    .waitFor();
  expect(await faultsOf(mine)).toEqual([]);
  if (process.env['SHOTS'])
    await mine.screenshot({ path: `${process.env['SHOTS']}/alarm.png`, fullPage: true });
  await browser.close();
});
