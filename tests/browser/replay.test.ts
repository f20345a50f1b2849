import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { START } from '../fixtures/building-run.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { CHECKED, LOOKS } from './chromium.ts';
import { faultsOf } from './faults.ts';
import { shooter, withPage } from './with-page.ts';

/**
 * "With 240 s on Room 6, how would the restart have gone?", asked on the page of a real server: from the event, through the
 * form, to both histories side by side. REPLAY_SHOTS names a folder for pictures of it.
 */
let api: ApiServer;
const shoot = shooter('REPLAY_SHOTS');
const told = toldScenario('utility-outage');
const at = (second: number): string => formatInstant(START + seconds(second));

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await storeTold(api, told);
});
afterAll(() => api?.stop());

test('from the restart on panel B to what 240 s on Room 6 would have made of it', async () => {
  const { body } = await api.get('/api/events?panel=panel-b&kind=restart-sequence');
  const event = body.items.at(-1);
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}events/${event.id}`);
    await page.getByRole('link', { name: 'Try other settings' }).click();
    await page.getByRole('heading', { name: 'How would it have gone under other settings?' }).waitFor();
    const room = page.getByRole('group', { name: 'Room 6' });
    await room.getByLabel('off-cycle delay (delay on break)').fill('240');
    await page.getByRole('button', { name: 'Replay' }).click();
    const differences = page.locator('.differences');
    await differences.waitFor();
    await expect
      .poll(() => differences.innerText())
      .toMatch(
        /Room 6 started at \S+; replayed at \S+, 3 s later, when its power-up delay of 144 s is over\./,
      );
    expect(await differences.innerText()).toContain('Room 6 and Room 8 would start together');
    await differences.getByRole('button', { name: /Room 6 started/ }).click();
    // three seconds are seen apart: two dotted lines, the seen start and the replayed one
    const guides = page.locator('section', { hasText: 'Room 6' }).locator('.guide');
    await expect.poll(() => guides.count()).toBe(2);
  });
});

test('wide and narrow, light and dark, it stays in its width and breaks no rule of axe', async () => {
  for (const look of CHECKED)
    await withPage(look, async (page) => {
      const site = told.building.site;
      await page.goto(
        `${api.server.url}sites/${site}/replay?units=unit-6,unit-7&from=${at(300)}&to=${at(3600)}`,
      );
      const delay = page
        .getByRole('group', { name: 'Room 6' })
        .getByLabel('off-cycle delay (delay on break)');
      await delay.fill('180');
      await shoot(page, 'form', look);
      await page.getByRole('button', { name: 'Replay' }).click();
      await page.locator('.differences').waitFor();
      await page.locator('.differences button').first().click();
      await shoot(page, 'replay', look);
      expect(await faultsOf(page)).toEqual([]);
    });
});

test('what can’t be replayed is said, and what is under way can be cancelled', async () => {
  await withPage(LOOKS[2]!, async (page) => {
    const site = told.building.site;
    await page.goto(`${api.server.url}sites/${site}/replay?units=unit-7&from=${at(300)}&to=${at(3600)}`);
    await page.getByRole('button', { name: 'Replay' }).click();
    await page.getByText('its cooling call isn’t wired').waitFor();
    await page.goto(
      `${api.server.url}sites/${site}/replay?units=unit-1&from=${at(900_000)}&to=${at(900_600)}`,
    );
    await page.getByRole('button', { name: 'Replay' }).click();
    await page.getByText('Nothing has been heard from the site for this stretch yet').waitFor();
  });
});

test('a replay that waits shows how far it is, and is cancelled with a press', async () => {
  const long = { site: told.building.site, from: at(-25 * 86_400), to: at(3600) };
  const ahead = await Promise.all(
    [1, 2, 3, 4].map(() => api.send('POST', '/api/replay', { ...long, units: ['unit-1', 'unit-2'] })),
  );
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}sites/${long.site}/replay?units=unit-6&from=${at(300)}&to=${at(3600)}`);
    await page.route('**/api/replay/*', async (route) => {
      if (route.request().method() === 'GET') await new Promise((resolve) => setTimeout(resolve, 1500));
      await route.continue();
    });
    await page.getByRole('button', { name: 'Replay' }).click();
    await page.getByRole('progressbar').waitFor();
    await page.getByRole('button', { name: 'Cancel' }).click();
    await page.getByText('It was cancelled.').waitFor();
  });
  for (const { body } of ahead) await api.send('DELETE', `/api/replay/${body.id}`);
});
