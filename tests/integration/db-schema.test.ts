import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { describeSchema } from '../../db/describe-schema.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
});
afterAll(() => store.drop());

/** `npx vitest run db-schema -u` writes the file anew; the diff is then for the review. */
test('the migrations yield the schema that stands in tests/golden/schema.sql', async () => {
  const golden = join(import.meta.dirname, '..', 'golden', 'schema.sql');
  await expect(await describeSchema(store.database)).toMatchFileSnapshot(golden);
});
