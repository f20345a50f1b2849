import { afterAll, beforeAll, expect, test } from 'vitest';
import { migrate } from '../../db/migrate.ts';
import { statement } from '../../db/pool.ts';
import { freshDatabase, openTestDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
});
afterAll(() => store.drop());

test('a schema that is up to date is left as it is, by any number of processes at once', async () => {
  const others = [1, 2, 3].map(() => openTestDatabase(store.url, 2));
  const applied = await Promise.all([store.database, ...others].map(migrate));
  expect(applied).toEqual([[], [], [], []]);
  await Promise.all(others.map((other) => other.close()));
});

test('a migration that was edited after it had been applied is refused', async () => {
  await store.database.run(statement('', "update migrations set digest = 'other' where number = 1"));
  await expect(migrate(store.database)).rejects.toThrow('0001_first.sql was edited');
});
