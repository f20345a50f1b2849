import { statement, type Database } from '../../db/pool.ts';
import { rateOf } from './rounds.ts';
import { UNITS } from './messages.ts';

/**
 * The baseline of what goes in: `INSERT … SELECT unnest … ON CONFLICT DO NOTHING` of rows that stand ready, times as
 * epoch numbers, 5,000 a statement and transaction, into a table that has the key of `samples` and nothing else to it.
 */
const BATCH = 5000;

const INSERT = statement(
  'bare-insert',
  `insert into bare_samples
   select p, to_timestamp(t), v, q from unnest($1::int4[], $2::float8[], $3::float8[], $4::int2[]) as r (p, t, v, q)
   on conflict do nothing`,
);

/** A table that has the key of `samples` and nothing else to it. */
export async function emptyBareTable(database: Database): Promise<void> {
  await database.run(statement('', 'drop table if exists bare_samples'));
  await database.run(
    statement(
      '',
      `create table bare_samples (
         point_id int not null, t timestamptz not null, value float8 not null, quality smallint not null,
         primary key (point_id, t)
       )`,
    ),
  );
}

export async function bareInsert(database: Database, rows: number): Promise<number> {
  await emptyBareTable(database);
  const batches = Array.from({ length: rows / BATCH }, (_, i) => batchOf(i * BATCH));
  return rateOf(rows, async () => {
    for (const batch of batches) await database.run(INSERT, batch);
  });
}

/** As messages bring them: the units in turn, each a second further. */
function batchOf(first: number): unknown[] {
  const places = Array.from({ length: BATCH }, (_, i) => first + i).sort(
    (a, b) => (a % UNITS) - (b % UNITS) || a - b,
  );
  return [
    array(places.map((place) => place % UNITS)),
    array(places.map((place) => 1_772_409_600 + Math.floor(place / UNITS))),
    array(places.map(() => 26.1)),
    array(places.map(() => 0)),
  ];
}

const array = (values: readonly number[]): string => `{${values.join(',')}}`;
