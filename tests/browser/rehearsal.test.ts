import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { rehearsalLink } from '../../shared/replay/rehearsal-link.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { TIMELINES } from '../fixtures/control-timelines.ts';
import { rehearsalOf } from '../fixtures/rehearsed-timelines.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { CHECKED, LOOKS } from './chromium.ts';
import { faultsOf } from './faults.ts';
import { shooter, withPage } from './with-page.ts';

/**
 * The rehearsal as somebody on the phone uses it, on the page of a real server: its chart is the control's of handbook 2.3, its
 * link shows another reader the same; a real event is opened in it. REHEARSAL_SHOTS names a folder for pictures.
 */
let api: ApiServer;
const shoot = shooter('REHEARSAL_SHOTS');
const told = toldScenario('utility-outage');

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await storeTold(api, told);
});
afterAll(() => api?.stop());

/** The chart's edges as its table tells them. */
async function edges(page: Page, lane: string): Promise<string> {
  const cell = page.locator(`td[data-lane="${lane}"]`);
  await cell.waitFor({ state: 'attached' });
  return (await cell.textContent()) ?? '';
}

const addressOf = (link: string): string => `${api.server.url}rehearsal?r=${encodeURIComponent(link)}`;

test('a link shows each timeline of handbook 2.3 as the control keeps it', async () => {
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}rehearsal`);
    for (const { output, alarm, ...row } of TIMELINES) {
      // as the browser's own back and forward do
      const to = JSON.stringify(addressOf(rehearsalLink(rehearsalOf(row))!));
      await page.evaluate(`history.pushState(null, '', ${to}); dispatchEvent(new PopStateEvent('popstate'))`);
      const shown = async () => [await edges(page, 'output'), await edges(page, 'alarm')];
      const kept = [output.join(', '), alarm.join(', ') || 'never on'];
      await expect.poll(shown, { message: row.name }).toEqual(kept);
    }
  });
});

test('by hand: a call, a trip, steps to what comes; the link then shows another reader the same', async () => {
  let link = '';
  let seen: string[] = [];
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}rehearsal`);
    await page.getByRole('heading', { name: 'Ready: it starts when the call comes.' }).waitFor();
    await page.getByRole('button', { name: 'give a call' }).click();
    await page.getByRole('heading', { name: 'It runs.' }).waitFor();
    await page.getByRole('button', { name: 'step' }).click(); // nothing is due: a minute on
    await page.getByRole('button', { name: 'trip high pressure' }).click();
    await page.getByRole('heading', { name: 'Soft lockout – retries in 3:30.' }).waitFor();
    await page.getByRole('button', { name: 'step' }).click(); // the retry, with the switch still open
    await page.getByRole('heading', { name: /^Hard lockout/ }).waitFor();
    await expect.poll(() => edges(page, 'output')).toBe('on 0, off 60');
    expect(await edges(page, 'alarm')).toBe('on 270');
    expect(await page.getByRole('listitem').allInnerTexts()).toContainEqual(
      expect.stringMatching(
        /^4:30\s+Hard lockout, alarm on – the high-pressure switch is open where it would start/,
      ),
    );
    link = await page.getByLabel('Link to this rehearsal').inputValue();
    seen = [await edges(page, 'output'), await edges(page, 'alarm'), await edges(page, 'high-pressure')];
    await shoot(page, 'rehearsal-lockout', LOOKS[0]!);
  });
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(link);
    await page.getByRole('heading', { name: /^Hard lockout/ }).waitFor();
    expect([
      await edges(page, 'output'),
      await edges(page, 'alarm'),
      await edges(page, 'high-pressure'),
    ]).toEqual(seen);
  });
});

test('a real event is opened in it, with what was seen around it', async () => {
  const { body } = await api.get('/api/events?kind=power-loss');
  const event = body.items.find((one: { unit: string | null }) => one.unit !== null);
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}events/${event.id}`);
    await page.getByRole('link', { name: 'Rehearse this' }).click();
    await page.waitForURL(/\/rehearsal\?r=1_/);
    await expect
      .poll(() => page.getByRole('listitem').allInnerTexts())
      .toContainEqual(expect.stringMatching(/Control power goes, and the call that is fed from it\.$/));
    expect(await edges(page, 'output')).toMatch(/off \d/);
  });
});

test('wide and narrow, light and dark, it stays in its width and breaks no rule of axe', async () => {
  for (const look of CHECKED)
    await withPage(look, async (page) => {
      await page.goto(addressOf(rehearsalLink(rehearsalOf(TIMELINES[1]!))!));
      await page.getByRole('heading', { name: /./ }).first().waitFor();
      await expect.poll(() => edges(page, 'alarm')).toBe('on 800, off 5000');
      expect(await faultsOf(page)).toEqual([]);
      await shoot(page, 'rehearsal', look);
    });
});
