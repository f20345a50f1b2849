import { afterAll, beforeAll, expect, test } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import type { BoardAnswer } from '../../shared/wire/status.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';
import { casesOf } from '../fixtures/seed.ts';

/** A board of 1,000 units at 100 sites (with CI=true a third of them), each unit with two runs in the last two hours. */
const SITES = casesOf('BOARD_SITES', 100);
const UNITS = 10;
const units = Array.from({ length: UNITS }, (_, i) => ({
  id: `unit-${i}`,
  panel: 'panel-a',
  points: [{ signal: 'cooling-call' }, { signal: 'compressor-output' }],
}));
const DOCUMENT = { timeZone: 'UTC', panels: [{ id: 'panel-a' }], units };
const siteName = (i: number): string => `site-${String(i).padStart(3, '0')}`;

let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
  const now = Math.floor(Date.now() / 1000);
  const changes = [
    [-6000, 0],
    [-5000, 1],
    [-4400, 0],
    [-2000, 1],
    [-1400, 0],
    [-60, 0],
  ] as const;
  for (let i = 0; i < SITES; i++) {
    await putDocument(api.store.database, siteName(i), DOCUMENT);
    const rows = units.flatMap(({ id }, u) =>
      changes.flatMap(([second, value]) =>
        ['cooling-call', 'compressor-output'].map((signal) => ({
          key: `${id}/${signal}`,
          t: seconds(now + second + u * 5),
          value,
        })),
      ),
    );
    await commit(api.store.database, siteName(i), [{ gateway: 'gateway', rows }]);
  }
  for (let i = 0; i < SITES; i++) await caughtUp(api.store.database, siteName(i), 120_000);
});
afterAll(() => api.stop());

const read = async (path: string) => (await api.get(path)).body as BoardAnswer;

test(`${SITES * UNITS} units come within a second, each with its strip to scale`, async () => {
  await read('/api/board'); // the sites’ documents are read once
  const took: number[] = [];
  let board: BoardAnswer | null = null;
  for (let i = 0; i < 5; i++) {
    const started = performance.now();
    board = await read('/api/board');
    took.push(performance.now() - started);
  }
  took.sort((a, b) => a - b);
  const kilobytes = Math.round(JSON.stringify(board).length / 1024);
  console.log(`board of ${SITES * UNITS} units: median ${took[2]!.toFixed(0)} ms, ${kilobytes} kB`);
  expect(board!.sites).toHaveLength(SITES);
  const all = board!.sites.flatMap((site) => site.units);
  expect(all).toHaveLength(SITES * UNITS);
  for (const { strip } of all)
    expect(strip!.phases.filter(({ phase }) => phase === 'running').length).toBeGreaterThanOrEqual(2);
  expect(took[2]).toBeLessThan(1000);
});

test('a page of it begins where the one before ended', async () => {
  const seen: string[] = [];
  let cursor: string | null = '';
  while (cursor !== null) {
    const page: BoardAnswer = await read(`/api/board?limit=30${cursor ? `&cursor=${cursor}` : ''}`);
    expect(page.sites.length).toBeLessThanOrEqual(30);
    seen.push(...page.sites.map(({ id }) => id));
    cursor = page.cursor;
  }
  expect(seen).toEqual(Array.from({ length: SITES }, (_, i) => siteName(i)));
});
