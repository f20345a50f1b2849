import { statement, type Queries } from '../pool.ts';

/** A table of ours as the catalogue has it: nothing here is listed by hand, so that no table is ever forgotten. */
export interface Table {
  readonly name: string;
  /** those that are carried: `xid8` is left out, for it counts the transactions of one server alone; its default follows */
  readonly columns: readonly string[];
  readonly key: readonly KeyColumn[];
  /** columns whose numbers are given by a sequence */
  readonly numbered: readonly string[];
}

export interface KeyColumn {
  readonly name: string;
  readonly isText: boolean;
}

interface Found {
  readonly name: string;
  readonly columns: string[];
  readonly key: string[];
  readonly texts: string[];
  readonly numbered: string[];
  readonly after: string[];
}

/** Partitions come with what they are part of, an extension's tables with the extension, the list of migrations by migrating. */
const READ = statement(
  '',
  `select c.relname as name,
     array(select a.attname::text from pg_attribute a where a.attrelid = c.oid and a.attnum > 0 and not a.attisdropped
       and a.attgenerated = '' and a.atttypid <> 'xid8'::regtype order by a.attnum) as columns,
     array(select a.attname::text from pg_index i cross join unnest(i.indkey) with ordinality k(number, place)
       join pg_attribute a on a.attrelid = c.oid and a.attnum = k.number
       where i.indrelid = c.oid and i.indisprimary order by k.place) as key,
     array(select a.attname::text from pg_attribute a where a.attrelid = c.oid and a.attnum > 0
       and a.atttypid = 'text'::regtype) as texts,
     array(select a.attname::text from pg_attribute a where a.attrelid = c.oid and a.attnum > 0
       and a.attidentity <> '') as numbered,
     array(select distinct f.confrelid::regclass::text from pg_constraint f
       where f.conrelid = c.oid and f.contype = 'f' and f.confrelid <> c.oid) as after
   from pg_class c
   where c.relnamespace = 'public'::regnamespace and c.relkind in ('r', 'p') and not c.relispartition
     and c.relname <> 'migrations'
     and not exists (select from pg_depend d where d.classid = 'pg_class'::regclass and d.objid = c.oid and d.deptype = 'e')
   order by c.relname`,
);

/** In an order in which rows may be written: what a table refers to comes before it. */
export async function readTables(queries: Queries): Promise<Table[]> {
  const found = await queries.many<Found>(READ);
  const placed = new Map<string, Table>();
  const place = (one: Found): void => {
    if (placed.has(one.name)) return;
    for (const name of one.after) {
      const other = found.find((table) => table.name === name);
      if (other) place(other);
    }
    placed.set(one.name, tableOf(one));
  };
  found.forEach(place);
  return [...placed.values()];
}

function tableOf({ name, columns, key, texts, numbered }: Found): Table {
  if (key.length === 0) throw new Error(`The table ${name} has no primary key: its rows have no order.`);
  return {
    name,
    columns,
    numbered,
    key: key.map((column) => ({ name: column, isText: texts.includes(column) })),
  };
}

export const quoted = (name: string): string => `"${name.replaceAll('"', '""')}"`;

export const listOf = (names: readonly string[]): string => names.map(quoted).join(', ');

/** The same order on every server, however it sorts its texts. */
export const keyOrder = ({ key }: Table): string =>
  key.map(({ name, isText }) => `${quoted(name)}${isText ? ' collate "C"' : ''}`).join(', ');

/** Where a sequence stands: numbers that were given out are never given again, though their rows are gone. */
export interface Numbering {
  readonly column: string;
  readonly last: number;
  readonly called: boolean;
}

export async function readNumbering(queries: Queries, { name, numbered }: Table): Promise<Numbering[]> {
  const found: Numbering[] = [];
  for (const column of numbered) {
    const { sequence } = await queries.one<{ sequence: string }>(
      statement('', 'select pg_get_serial_sequence($1, $2) as sequence'),
      [quoted(name), column],
    );
    const stands = await queries.one<{ last: number; called: boolean }>(
      statement('', `select last_value as last, is_called as called from ${sequence}`),
    );
    found.push({ column, ...stands });
  }
  return found;
}

const NUMBER_FROM = statement('', 'select setval(pg_get_serial_sequence($1, $2), $3, $4)');

export async function writeNumbering(
  queries: Queries,
  { name }: Pick<Table, 'name'>,
  numbering: readonly Numbering[],
): Promise<void> {
  for (const { column, last, called } of numbering)
    await queries.run(NUMBER_FROM, [quoted(name), column, last, called]);
}

const OURS = `c.relnamespace = 'public'::regnamespace
     and not exists (select from pg_depend d where d.classid = 'pg_class'::regclass and d.objid = c.oid and d.deptype in ('e', 'i', 'a'))`;
const SEQUENCES = statement(
  '',
  `select c.relname as name from pg_class c where c.relkind = 'S' and ${OURS} order by 1`,
);
const VIEWS = statement(
  '',
  `select c.relname as name from pg_class c where c.relkind = 'v' and ${OURS} order by 1`,
);

/** A sequence that belongs to no column. */
export interface Sequence {
  readonly name: string;
  readonly last: number;
  readonly called: boolean;
}

export async function readSequences(queries: Queries): Promise<Sequence[]> {
  const found: Sequence[] = [];
  for (const { name } of await queries.many<{ name: string }>(SEQUENCES))
    found.push({
      name,
      ...(await queries.one<Omit<Sequence, 'name'>>(
        statement('', `select last_value as last, is_called as called from ${quoted(name)}`),
      )),
    });
  return found;
}

const SET = statement('', 'select setval($1::regclass, $2, $3)');

export async function writeSequences(queries: Queries, sequences: readonly Sequence[]): Promise<void> {
  for (const { name, last, called } of sequences) await queries.run(SET, [quoted(name), last, called]);
}

/** What a start by itself leaves, before anything was configured. */
export const LEFT_BY_A_START = new Set([
  'configuration',
  'link_keys',
  'push_keys',
  'watch_marks',
  'watch_gaps',
  'ingests',
  'leases',
  'gateway_refusals',
]);

/** Takes away everything that migrations have made. */
export async function dropEverything(queries: Queries): Promise<void> {
  const names = async (which: typeof VIEWS) =>
    (await queries.many<{ name: string }>(which)).map(({ name }) => name);
  for (const name of await names(VIEWS)) await queries.run(statement('', `drop view ${quoted(name)}`));
  const tables = (await readTables(queries)).map(({ name }) => name);
  // one by one: a hypertable is dropped alone
  for (const name of [...tables.reverse(), 'migrations'])
    await queries.run(statement('', `drop table if exists ${quoted(name)}`));
  for (const name of await names(SEQUENCES))
    await queries.run(statement('', `drop sequence ${quoted(name)}`));
}
