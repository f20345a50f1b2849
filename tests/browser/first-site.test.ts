import { mkdirSync } from 'node:fs';
import { expect, test } from 'vitest';
import { PAGE_FOLDER } from '../../server/build-page.ts';
import { startApi } from '../fixtures/api-server.ts';
import { LOOKS, openBrowser } from './chromium.ts';
import { faultsOf } from './faults.ts';

/** An empty installation leads to a first site on a phone, and can be left and resumed. EDITOR_SHOTS names a folder for pictures. */
test('from nothing to a first site by a usual wiring, and tables with a fault', async () => {
  const api = await startApi({ pageFolder: PAGE_FOLDER });
  const browser = await openBrowser(LOOKS[3]!);
  try {
    const page = await browser.newPage();
    const complaints: string[] = [];
    page.on('pageerror', (error) => complaints.push(error.message));
    const isWell = async (name: string) => {
      const folder = process.env['EDITOR_SHOTS'];
      if (folder !== undefined) {
        mkdirSync(folder, { recursive: true });
        await page.screenshot({ path: `${folder}/${name}.png`, fullPage: true });
      }
      expect(await faultsOf(page)).toEqual([]);
    };
    const answer = (text: string | RegExp) => page.getByRole('heading', { level: 1, name: text });
    await page.goto(api.server.url);
    await page.getByRole('link', { name: 'Setting up sites' }).click();
    await answer('Begin with the first administrator.').waitFor();
    await page.getByLabel('Name of the new site').fill('Mile 9 shelter');
    await isWell('start');
    await page.getByRole('button', { name: 'Open it in the editor' }).click();
    await answer('Mile 9 shelter: not saved yet.').waitFor();
    await page.reload();
    await page.getByRole('link', { name: 'Look at the changes and save' }).click();
    await page.getByRole('button', { name: 'Save the new site' }).click();
    await answer('Mile 9 shelter is saved.').waitFor();
    await page.goto(new URL('/start', api.server.url).href);
    await page.getByText('2 units, 13 points.').waitFor();
    await page.goto(new URL('/tables', api.server.url).href);
    const text = 'site;unit;protection.offDelay\nmile-9-shelter;unit-1;20\nmile-9-shelter;unit-2;180\n';
    const upload = (content: string) =>
      page
        .getByLabel('Tables to take in (CSV)')
        .setInputFiles({ name: 'units.csv', mimeType: 'text/csv', buffer: Buffer.from(content) });
    await upload(text);
    await answer('1 fault: nothing is taken in.').waitFor();
    await page.getByRole('cell', { name: 'Give 30 or more.' }).waitFor();
    await isWell('tables');
    await upload(text.replace(';20', ';150'));
    await answer('No faults: 0 new sites, 1 changed. Nothing is taken in yet.').waitFor();
    await page.getByRole('button', { name: 'Take them in' }).click();
    await answer('Taken in: 0 new sites, 1 changed.').waitFor();
    const { units } = (await api.get('/api/sites/mile-9-shelter')).body;
    expect(units.map(({ protection }: { protection: object }) => protection)).toEqual([
      { offDelay: 150 },
      { offDelay: 180 },
    ]);
    expect(complaints).toEqual([]);
  } finally {
    await browser.close();
    await api.stop();
  }
});
