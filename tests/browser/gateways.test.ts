import { afterAll, beforeAll, expect, test } from 'vitest';
import { keepHeard } from '../../db/heard-topics.ts';
import { writeRefusals } from '../../db/gateway-refusals.ts';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { heardOnce, joinHeard, type HeardValue } from '../../shared/wiring/heard.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commitSamples } from '../fixtures/commit.ts';
import { wallClock } from '../fixtures/ingest.ts';
import { CHECKED, LOOKS } from './chromium.ts';
import { faultsOf } from './faults.ts';
import { shooter, withPage } from './with-page.ts';

/**
 * What comes from a site's gateways, by clicking: what is talking and not mapped, what they connect by, whom the broker turned
 * away, and a point watched live. GATEWAYS_SHOTS names a folder for pictures.
 */
let api: ApiServer;
const shoot = shooter('GATEWAYS_SHOTS');

const ELM = {
  name: 'Elm Street',
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a' }],
  units: ['unit-1', 'unit-2', 'unit-3'].map((id) => ({ id, panel: 'panel-a' })),
};

beforeAll(async () => {
  api = await startApi({ pageFolder: PAGE_FOLDER });
  expect((await api.send('PUT', '/api/sites/elm', ELM)).status).toBe(201);
});
afterAll(() => api?.stop());

test('what is talking: a guess is accepted, another changed, one ignored, and a pattern takes many units', async () => {
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
  await withPage(LOOKS[0]!, async (page) => {
    await page.goto(`${api.server.url}telemetry?site=elm`);
    await page.getByRole('button', { name: 'watch unit-1, control voltage live' }).click();
    await page.getByText('Live: each value as it comes.').waitFor();
    expect(await page.locator('header').innerText()).toMatch(/Elm Street[^]*C[SD]T/);
    const key = 'unit-1/control-voltage';
    for (const [value, late] of [
      [25.3, 4],
      [26.4, 0.1],
    ] as const)
      // prettier-ignore
      await commitSamples(api.store.database, 'elm', [
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

test('wide and narrow, light and dark, the page of gateways stays in its width and breaks no rule of axe', async () => {
  const { credentials } = (await api.get('/api/sites/elm/gateways')).body.gateways[0];
  const at = wallClock();
  const username = credentials.find(({ state }: { state: string }) => state === 'valid').username as string;
  const who = { why: 'wrong-password', username, address: '192.0.2.7', client: 'gateway-1', detail: '' };
  await writeRefusals(api.store.database, [{ ...who, firstAt: at - 60_000_000, lastAt: at, times: 14 }], at);
  for (const look of CHECKED)
    await withPage(look, async (page) => {
      await page.goto(`${api.server.url}sites/elm/gateways`);
      await page.getByText('gave a wrong password, 14 times since').waitFor();
      for (const summary of (await page.locator('main summary').all()).slice(0, 3)) await summary.click();
      expect(await faultsOf(page)).toEqual([]);
      await shoot(page, 'gateways', look);
    });
});
