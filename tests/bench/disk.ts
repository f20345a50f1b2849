import { keepInColumns } from '../../db/columnstore.ts';
import { providePlaces } from '../../db/partitions.ts';
import { statement, type Database } from '../../db/pool.ts';
import { useTimescale } from '../../db/timescale.ts';
import { timescaleInWasm } from '../fixtures/timescale-wasm.ts';
import { heading, say, thousands } from './report.ts';
import { fillUnit, putBenchSite, type Store } from './store.ts';
import { BEGIN, dayRows, fullDocument, UNIT, type UnitRow } from './unit-record.ts';

/**
 * Bytes of a sample on disk, index and all: in PostgreSQL's weeks, in TimescaleDB's chunks, and in its columnstore (TimescaleDB in
 * WebAssembly, which has it), each as a ratio to one plain table of the same rows in the same database. Two records: a unit's
 * days, and a voltage with noise in its last digits, which nothing can foresee.
 */
const DAYS = 14;
const EVERY = 5;

const RECORDS: readonly { readonly name: string; rows(): Iterable<UnitRow> }[] = [
  {
    name: `a unit's ${DAYS} days: contacts on change, voltage each ${EVERY} s`,
    rows: () => dayRows(DAYS, EVERY),
  },
  { name: `${DAYS} days of a voltage each ${EVERY} s with noise of ±0.5 V in steps of 0.01 V`, rows: noisy },
];

export async function benchDisk(
  openPlain: (work: (store: Store) => Promise<void>) => Promise<void>,
): Promise<void> {
  heading('Bytes of a sample on disk');
  for (const { name, rows } of RECORDS) {
    say(`  ${name}`);
    await openPlain(async ({ database }) => {
      const count = await fill(database, rows());
      const plain = await plainBytes(database);
      tell('weeks of PostgreSQL', await bytesOf(database, PARTITIONS), plain, count);
    });
    const wasm = await timescaleInWasm();
    await useTimescale(wasm);
    const count = await fill(wasm, rows());
    const plain = await plainBytes(wasm);
    tell('chunks of TimescaleDB', await bytesOf(wasm, HYPERTABLE), plain, count);
    const chunks = await keepInColumns(wasm, Infinity);
    tell(`its columnstore (${chunks} chunks)`, await bytesOf(wasm, HYPERTABLE), plain, count);
    await wasm.close();
  }
}

async function fill(database: Database, rows: Iterable<UnitRow>): Promise<number> {
  const points = await putBenchSite(database, 1, fullDocument(1, EVERY));
  await providePlaces(database, [BEGIN]);
  return fillUnit(database, points, rows, UNIT);
}

const PLAIN = [
  'create table plain_samples (point_id int not null, t timestamptz not null, value float8 not null, quality smallint not null)',
  'alter table plain_samples add primary key (point_id, t)',
  'insert into plain_samples select point_id, t, value, quality from samples order by t',
];
const PLAIN_SIZE = "select pg_total_relation_size('plain_samples') as bytes";
const PARTITIONS =
  "select sum(pg_total_relation_size(inhrelid))::bigint as bytes from pg_inherits where inhparent = 'samples'::regclass";
const HYPERTABLE = "select hypertable_size('samples') as bytes";

async function plainBytes(database: Database): Promise<number> {
  for (const text of PLAIN) await database.run(statement('', text));
  return bytesOf(database, PLAIN_SIZE);
}

const bytesOf = async (database: Database, text: string): Promise<number> =>
  (await database.one<{ bytes: number }>(statement('', text))).bytes;

function tell(what: string, bytes: number, plain: number, rows: number): void {
  const each = (all: number) => (all / rows).toFixed(1);
  say(
    `    ${(bytes / plain).toPrecision(2).padStart(6)} ×  ${what}: ${each(bytes)} bytes a row, against ${each(plain)} in a plain table (${thousands(rows)} rows)`,
  );
}

function* noisy(): Generator<UnitRow> {
  let seed = 1;
  for (let i = 0; i < (DAYS * 86_400) / EVERY; i++) {
    seed = (seed * 48_271) % 2_147_483_647; // a multiplicative generator: the same noise in each run
    const value = Math.round(2_600 + (seed % 101) - 50) / 100;
    yield { signal: 'control-voltage', t: BEGIN + i * EVERY * 1_000_000, value };
  }
}
