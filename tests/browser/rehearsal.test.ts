import { mkdirSync } from 'node:fs';
import type { Page } from 'playwright-core';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { keepHeard } from '../../db/heard-topics.ts';
import { writeRefusals } from '../../db/gateway-refusals.ts';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { heardOnce, joinHeard, type HeardValue } from '../../shared/wiring/heard.ts';
import { rehearsalLink } from '../../shared/replay/rehearsal-link.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { TIMELINES } from '../fixtures/control-timelines.ts';
import { commitSamples } from '../fixtures/commit.ts';
import { wallClock } from '../fixtures/ingest.ts';
import { rehearsalOf } from '../fixtures/rehearsed-timelines.ts';
import { toldScenario } from '../fixtures/replay-building.ts';
import { storeTold } from '../fixtures/store-told.ts';
import { CHECKED, LOOKS, openBrowser, type Look } from './chromium.ts';
import { faultsOf } from './faults.ts';

/**
 * The rehearsal as somebody on the phone uses it, on the page of a real server: its chart is the control's of handbook 2.3, its
 * link shows another reader the same; a real event is opened in it. With it, by clicking: a site's gateways, what is talking
 * there, a point watched live. REHEARSAL_SHOTS names a folder for pictures.
 */
let api: ApiServer;
const shots = process.env['REHEARSAL_SHOTS'];
const told = toldScenario('utility-outage');

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  await storeTold(api, told);
});
afterAll(() => api?.stop());

async function withPage(look: Look, work: (page: Page) => Promise<void>): Promise<void> {
  const browser = await openBrowser(look);
  const page = await browser.newPage();
  const errors: string[] = [];
  page.on('pageerror', (error) => errors.push(error.message));
  try {
    await work(page);
    expect(errors).toEqual([]);
  } finally {
    await browser.close();
  }
}

async function shoot(page: Page, name: string, look: Look): Promise<void> {
  if (shots === undefined) return;
  mkdirSync(shots, { recursive: true });
  await page.screenshot({ path: `${shots}/${name}-${look.width}-${look.ground}.png`, fullPage: true });
}

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

test('wide and narrow, light and dark, both pages stay in their width and break no rule of axe', async () => {
  const site = told.building.site;
  const { body } = await api.get(`/api/sites/${site}/gateways`);
  const gateway = body.gateways[0].id;
  const made = await api.send('POST', `/api/sites/${site}/gateways/${gateway}/credentials`, {
    kind: 'password',
  });
  const at = wallClock();
  const refusal = { address: '192.0.2.7', client: 'gateway-1', firstAt: at - 60_000_000, lastAt: at };
  const row = {
    ...refusal,
    why: 'wrong-password',
    username: made.body.credential.username,
    detail: '',
    times: 14,
  };
  await writeRefusals(api.store.database, [row], at);
  for (const look of CHECKED)
    await withPage(look, async (page) => {
      await page.goto(addressOf(rehearsalLink(rehearsalOf(TIMELINES[1]!))!));
      await page.getByRole('heading', { name: /./ }).first().waitFor();
      await expect.poll(() => edges(page, 'alarm')).toBe('on 800, off 5000');
      expect(await faultsOf(page)).toEqual([]);
      await shoot(page, 'rehearsal', look);
      await page.goto(`${api.server.url}sites/${site}/gateways`);
      await page.getByText('gave a wrong password, 14 times since').waitFor();
      // the first gateway's: all are made alike
      for (const summary of (await page.locator('main summary').all()).slice(0, 3)) await summary.click();
      expect(await faultsOf(page)).toEqual([]);
      await shoot(page, 'gateways', look);
    });
});

const ELM = {
  name: 'Elm Street',
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a' }],
  units: ['unit-1', 'unit-2', 'unit-3'].map((id) => ({ id, panel: 'panel-a' })),
};

test('what is talking: a guess is accepted, another changed, one ignored, and a pattern takes many units', async () => {
  expect((await api.send('PUT', '/api/sites/elm', ELM)).status).toBe(201);
  const at = wallClock();
  const heard = (topic: string, ...values: unknown[]) => {
    const source = { topic, kind: 'topic', pointer: '', time: null } as const;
    const body = values
      .map((value, i) => heardOnce(source, value, at - (values.length - i) * 5e6))
      .reduce(joinHeard);
    return { topic, pointer: '', body, lastAt: at };
  };
  await keepHeard<HeardValue>(
    api.store.database,
    [
      heard('plant/unit-1/di/cooling-call', 0, 1, 0),
      heard('plant/unit-1/di/7', 1, 0, 1),
      heard('plant/unit-1/debug', 'hello', 'again'),
      ...['unit-1', 'unit-2', 'unit-3'].map((unit) => heard(`plant/${unit}/ai/9`, 26.1, 25.9, 26.2)),
    ],
    joinHeard,
  );
  const points = async () =>
    (await api.get('/api/sites/elm')).body.units.map(
      ({ points = [] }: { points?: { signal: string; source: { topic: string } }[] }) =>
        points.map(({ signal, source }) => `${signal} ${source.topic}`).sort(),
    );
  await withPage(LOOKS[2]!, async (page) => {
    await page.goto(`${api.server.url}sites/elm/wiring`);
    await page.getByRole('heading', { name: /^6 values are heard and not mapped/ }).waitFor();
    expect(await page.locator('header').innerText()).toMatch(/Elm Street[^]*C[SD]T/); // its name, its zone
    expect(await faultsOf(page)).toEqual([]);
    await shoot(page, 'wiring', LOOKS[2]!);
    const item = (topic: string) => page.getByRole('listitem').filter({ hasText: topic });
    const save = async (says: string) => {
      await page.getByRole('heading', { name: 'What would change, from now on' }).waitFor();
      await page.getByRole('button', { name: 'save it' }).click();
      await page.getByRole('status').filter({ hasText: says }).first().waitFor();
    };
    await item('plant/unit-1/di/cooling-call').getByRole('button', { name: 'accept' }).click();
    await page.getByText('unit-1: cooling call from plant/unit-1/di/cooling-call').waitFor();
    await save('One point is mapped.');

    const seventh = item('plant/unit-1/di/7');
    await seventh.getByLabel('Signal of plant/unit-1/di/7').selectOption('high-pressure switch');
    await seventh.getByLabel('Whose it is').selectOption('unit-1');
    await seventh.getByRole('button', { name: 'accept' }).click();
    await save('One point is mapped.');

    await item('plant/unit-1/debug').getByRole('button', { name: 'ignore' }).click();
    await expect.poll(() => item('plant/unit-1/debug').count()).toBe(0);
    await page.getByRole('button', { name: 'ignored ones' }).click();
    await item('plant/unit-1/debug').getByText('Ignored by').waitFor();
    await page.getByRole('button', { name: 'ignored ones' }).click();

    await page.getByText('Many units at once').click();
    await page.getByLabel(/^Topic, with/).fill('plant/{unit}/ai/9');
    await page.locator('details select').selectOption('control voltage');
    await page.getByRole('button', { name: 'show what would change: 3' }).click();
    await shoot(page, 'wiring-pattern', LOOKS[2]!);
    await save('3 points are mapped.');
    await page.getByRole('heading', { name: 'Everything that is heard is mapped.' }).waitFor();
  });
  const voltage = (unit: string) => `control-voltage plant/${unit}/ai/9`;
  expect(await points()).toEqual([
    [voltage('unit-1'), 'cooling-call plant/unit-1/di/cooling-call', 'high-pressure plant/unit-1/di/7'],
    [voltage('unit-2')],
    [voltage('unit-3')],
  ]);
});

test('a gateway’s password is made, shown once, changed with an overlap, and revoked', async () => {
  const credentials = async () => (await api.get('/api/sites/elm/gateways')).body.gateways[0].credentials;
  await withPage(LOOKS[2]!, async (page) => {
    await page.goto(`${api.server.url}sites/elm/gateways`);
    const shown = (name: string) => page.getByLabel(name, { exact: true });
    await page.getByText('It has nothing to connect by.').waitFor();
    expect(await page.locator('header').innerText()).toMatch(/Elm Street[^]*C[SD]T/);
    await page.getByText('Make one', { exact: true }).click();
    await page.getByRole('button', { name: 'Make a user and password' }).click();
    await page.getByText('It is shown this once: it is kept nowhere').waitFor();
    const first = { user: await shown('User').inputValue(), password: await shown('Password').inputValue() };
    expect(first.password.length).toBeGreaterThan(20);
    await shoot(page, 'credential-made', LOOKS[2]!);
    expect(await faultsOf(page)).toEqual([]);
    await page.reload();
    await page.getByText(first.user).first().waitFor();
    expect(await page.content()).not.toContain(first.password);
    expect(JSON.stringify((await api.get('/api/sites/elm/gateways')).body)).not.toContain(first.password);

    await page.getByText('Make another, or change to another').click();
    await page.getByLabel('It takes the place of').selectOption(first.user);
    await page.getByLabel(/^Days that the old one stays good/).fill('2');
    await page.getByRole('button', { name: 'Make a user and password' }).click();
    await expect.poll(() => shown('User').inputValue()).not.toBe(first.user);
    const second = await shown('User').inputValue();
    const [old, fresh] = [first.user, second].map(
      (user) => async () =>
        (await credentials()).find(({ username }: { username: string }) => username === user),
    );
    const left = (Date.parse((await old!()).endsAt) - Date.now()) / 86_400_000;
    expect([left > 1.9, left < 2.1, (await fresh!()).endsAt]).toEqual([true, true, null]);

    await page.getByRole('button', { name: `revoke ${first.user}` }).click();
    await page.getByText('Those that are past (1)').click();
    await page.getByText(/; revoked /).waitFor();
    expect((await old!()).state).toBe('revoked');
    expect((await fresh!()).state).toBe('valid');
  });
});

test('one press on the telemetry page watches a point live: each value as it comes, and how late', async () => {
  const { site } = told.building;
  const { name } = (await api.get(`/api/sites/${site}`)).body;
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}telemetry?site=${site}`);
    await page.getByRole('button', { name: 'watch unit-1, control voltage live' }).click();
    await page.getByText('Live: each value as it comes.').waitFor();
    expect(await page.locator('header').innerText()).toMatch(new RegExp(`${name.split(' (')[0]}[^]*C[SD]T`));
    const key = 'unit-1/control-voltage';
    for (const [value, late] of [
      [25.3, 4],
      [26.4, 0.1],
    ] as const)
      // prettier-ignore
      await commitSamples(api.store.database, site, [
        { key, t: wallClock() - late * 1e6, value, quality: 0 },
      ]);
    await page.getByRole('heading', { name: 'unit-1, control voltage: 26.4 V' }).waitFor();
    const rows = await page.locator('section table tbody tr').allInnerTexts();
    expect(rows.find((row) => row.includes('25.3 V'))).toMatch(/\d s late$/);
    expect(rows.find((row) => row.includes('26.4 V'))).toMatch(/s late$/);
    await shoot(page, 'watched', LOOKS[0]!);
    expect(await faultsOf(page)).toEqual([]);
    await page.getByRole('button', { name: 'stop watching' }).click();
    await expect.poll(() => page.getByText('Live: each value as it comes.').count()).toBe(0);
  });
});
