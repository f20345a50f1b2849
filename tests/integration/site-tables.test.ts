import { afterAll, beforeAll, expect, test } from 'vitest';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { fleetTables, PLANTED, planted } from '../fixtures/fleet-tables.ts';
import { invite, setUpAdministrator, type Browser } from '../fixtures/signed-in.ts';
import type { SiteTablesAnswer } from '../../shared/wire/site-tables.ts';

/** 500 units from spreadsheets, over HTTP: every fault at once and nothing half taken in; then all of it, with its progress. */
let api: ApiServer;
let administrator: Browser;
beforeAll(async () => {
  api = await startApi();
  administrator = await setUpAdministrator(api);
});
afterAll(() => api?.stop());

async function imported(
  browser: Browser,
  files: readonly { name: string; text: string }[],
  dryRun = false,
): Promise<{ readonly answer: SiteTablesAnswer; readonly seen: readonly SiteTablesAnswer[] }> {
  const begun = await browser.send('POST', '/api/import/sites', { dryRun, files });
  expect(begun.status).toBe(202);
  const seen: SiteTablesAnswer[] = [];
  await expect
    .poll(
      async () => {
        seen.push((await browser.get(`/api/import/sites/${begun.body.id}`)).body as SiteTablesAnswer);
        return seen.at(-1)!.state;
      },
      { timeout: 300_000 },
    )
    .toMatch(/done|refused|failed/);
  return { answer: seen.at(-1)!, seen };
}

const countSites = async () => (await administrator.get('/api/sites?limit=1000')).body.items.length;

test('20 planted faults: all are told by row, column and reason, and nothing is taken in', async () => {
  const { answer } = await imported(administrator, planted());
  expect(answer).toMatchObject({ state: 'refused', faultCount: 20 });
  expect(answer.faults.map(({ file, row, column }) => ({ file, row, column }))).toEqual(
    PLANTED.map(({ file, row, column }) => ({ file, row, column })),
  );
  expect(await countSites()).toBe(0);
});

test('clean, it is looked at first and taken in then, with its progress', async () => {
  const looked = await imported(administrator, fleetTables(), true);
  expect(looked.answer).toMatchObject({ state: 'done', done: 250, of: 250, faultCount: 0 });
  expect(await countSites()).toBe(0);
  const began = performance.now();
  const { answer, seen } = await imported(administrator, fleetTables());
  console.log(`500 units at 250 sites: ${Math.round(performance.now() - began)} ms`);
  expect(answer).toMatchObject({ state: 'done', done: 250, faultCount: 0 });
  expect(seen.some(({ state, done }) => state === 'saving' && done > 0)).toBe(true);
  expect(await countSites()).toBe(250);
});

test('what comes out as tables goes in again without a change, and a changed row changes its site alone', async () => {
  const names = ['sites', 'gateways', 'spaces', 'panels', 'units', 'points'];
  const files = await Promise.all(
    names.map(async (name) => ({
      name: `${name}.csv`,
      text: (await administrator.get(`/api/export/sites?table=${name}&site=shelter-007`)).body as string,
    })),
  );
  const same = await imported(administrator, files);
  expect(same.answer.sites).toEqual([{ site: 'shelter-007', isNew: false, units: 2, changes: 0 }]);
  const text = 'site,unit,protection.offDelay\r\nshelter-007,unit-2,240\r\n';
  expect((await imported(administrator, [{ name: 'units.csv', text }])).answer.state).toBe('done');
  expect((await administrator.get('/api/sites/shelter-007')).body.units[1].protection).toEqual({
    offDelay: 240,
  });
  const { items } = (await administrator.get('/api/sites/shelter-007/saves')).body;
  expect(items).toMatchObject([{ putBy: 'Ada Quist', holds: true }, { holds: true }]);
});

test('an engineer of one site changes no other by a table, and makes none', async () => {
  const person = { name: 'Ben', email: 'ben@example.org', role: 'engineer', sites: ['shelter-001'] };
  const ben = await invite(api, administrator, person);
  const text = 'site,unit,filter\r\nshelter-001,unit-1,two\r\nshelter-002,unit-1,two\r\n';
  const { answer } = await imported(ben, [{ name: 'units.csv', text }]);
  expect(answer.state).toBe('refused');
  expect(answer.faults.map(({ row, column }) => ({ row, column }))).toContainEqual({
    row: 3,
    column: 'site',
  });
  const made = 'site,timeZone\r\nmine,UTC\r\n';
  const { answer: other } = await imported(ben, [{ name: 'sites.csv', text: made }]);
  expect(other.faults).toMatchObject([{ row: 2, column: 'site', message: 'You may not change “mine”.' }]);
  expect((await ben.get('/api/export/sites?table=sites&site=shelter-002')).status).toBe(404);
});
