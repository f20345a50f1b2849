import { afterAll, beforeAll, expect, test } from 'vitest';
import { migrate } from '../../db/migrate.ts';
import { providePlaces, readPartitions } from '../../db/partitions.ts';
import { statement } from '../../db/pool.ts';
import { freshDatabase, openTestDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
});
afterAll(() => store.drop());

test('a schema that is up to date is left as it is, by any number of processes at once', async () => {
  const others = [1, 2, 3].map(() => openTestDatabase(store.url, 2));
  const applied = await Promise.all([store.database, ...others].map((one) => migrate(one)));
  expect(applied).toEqual([[], [], [], []]);
  await Promise.all(others.map((other) => other.close()));
});

test('samples of an installation without partitions become one, as they lie; later weeks get their own', async () => {
  const older = await freshDatabase();
  const { database } = older;
  await database.run(statement('', 'drop schema public cascade; create schema public'));
  await migrate(database, (number) => number <= 21);
  const LAY = `insert into samples (point_id, t, value, quality)
    select p, '2026-01-01Z'::timestamptz + i * interval '9 h', i, 0 from generate_series(1, 3) p, generate_series(0, 99) i`;
  await database.run(statement('', LAY));
  const FILE = statement('', "select pg_relation_filenode('samples_before') as file");
  const before = await database.one<{ file: number }>(
    statement('', "select pg_relation_filenode('samples') as file"),
  );
  await migrate(database);
  expect(await database.one(FILE)).toEqual(before);
  const COUNT = statement('', 'select count(*) as rows from samples');
  expect(await database.one(COUNT)).toEqual({ rows: 300 });
  await providePlaces(database, [
    Date.UTC(1999, 0, 1) * 1000,
    Date.UTC(2026, 1, 8) * 1000,
    Date.UTC(2026, 5, 1) * 1000,
  ]);
  expect((await readPartitions(database)).map(({ name }) => name)).toEqual([
    'samples_before',
    'samples_20260528',
  ]);
  await older.drop();
});

test('a migration that was edited after it had been applied is refused', async () => {
  await store.database.run(statement('', "update migrations set digest = 'other' where number = 1"));
  await expect(migrate(store.database)).rejects.toThrow('0001_first.sql was edited');
});
