import fc from 'fast-check';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { float8Array, int2Array, int4Array, timeArray, timeParameter } from '../../db/values.ts';
import { REACH } from '../../shared/base/instant.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

let store: FreshDatabase;
beforeAll(async () => {
  store = await freshDatabase();
});
afterAll(() => store.drop());

const anInstant = () => fc.integer({ min: 1 - REACH, max: REACH - 1 });

test('instants go and come back to the microsecond, alone and in columns', async () => {
  const ask = statement('instants', 'select $1::timestamptz as alone, unnest($2::timestamptz[]) as t');
  await fc.assert(
    fc.asyncProperty(
      anInstant(),
      fc.array(anInstant(), { minLength: 1, maxLength: 50 }),
      async (one, many) => {
        const rows = await store.database.many<{ alone: number; t: number }>(ask, [
          timeParameter(one),
          timeArray(many),
        ]);
        expect(rows).toEqual(many.map((t) => ({ alone: one, t })));
      },
    ),
    { numRuns: 300 },
  );
});

test('infinities are PostgreSQL’s own, alone and in columns', async () => {
  const ask = statement('infinities', 'select $1::timestamptz as a, $2::timestamptz as b');
  const row = await store.database.one(ask, [timeParameter(-Infinity), timeParameter(Infinity)]);
  expect(row).toEqual({ a: -Infinity, b: Infinity });
  const columns = statement('infinite-column', 'select t from unnest($1::timestamptz[]) as c(t)');
  const rows = await store.database.many(columns, [timeArray([-Infinity, 0, Infinity])]);
  expect(rows).toEqual([{ t: -Infinity }, { t: 0 }, { t: Infinity }]);
});

test('columns of numbers keep every bit', async () => {
  const ask = statement(
    'columns',
    'select * from unnest($1::int4[], $2::int2[], $3::float8[]) as c(a, b, c)',
  );
  const row = fc.record({
    a: fc.integer({ min: -(2 ** 31), max: 2 ** 31 - 1 }),
    b: fc.integer({ min: -(2 ** 15), max: 2 ** 15 - 1 }),
    c: fc.double({ noNaN: true }),
  });
  await fc.assert(
    fc.asyncProperty(fc.array(row, { maxLength: 50 }), async (rows) => {
      const columns = [
        int4Array(rows.map(({ a }) => a)),
        int2Array(rows.map(({ b }) => b)),
        float8Array(rows.map(({ c }) => c)),
      ];
      expect(await store.database.many(ask, columns)).toEqual(rows);
    }),
    { numRuns: 100 },
  );
});
