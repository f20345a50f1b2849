import { knownMigrations, migrate } from '../migrate.ts';
import { makeMissing } from '../partitions.ts';
import { statement, type Database, type Queries } from '../pool.ts';
import { useTimescale } from '../timescale.ts';
import {
  CUT_SHORT,
  PartReader,
  Tally,
  type FileEnd,
  type FileHead,
  type PartEnd,
  type PartHead,
} from './file-form.ts';
import { forgetIngests } from '../ingests.ts';
import {
  dropEverything,
  LEFT_BY_A_START,
  listOf,
  quoted,
  readTables,
  writeNumbering,
  writeSequences,
  type Table,
} from './tables.ts';

/**
 * A backup into an empty installation. The schema is made anew as it was when the backup was taken; all rows come in one
 * transaction, so that whatever goes wrong, the installation is empty as before; then later migrations run.
 */
export interface RestoreOptions {
  readonly chunks: AsyncIterable<Buffer>;
  readonly progress: (rows: number) => void;
}

export interface RestoreDone {
  readonly head: FileHead;
  readonly tables: number;
  readonly rows: number;
  /** of migrations that have been written since */
  readonly migrated: readonly string[];
}

export async function restoreBackup(
  database: Database,
  { chunks, progress }: RestoreOptions,
): Promise<RestoreDone> {
  const reader = new PartReader(chunks);
  const head = headOf(await reader.line());
  const known = await knownMigrations();
  const had = new Set(head.migrations);
  if (head.migrations.some((number) => !known.includes(number)))
    throw new Error(
      `The backup is of a newer program (its schema ends with ${Math.max(...had)}, this one’s with ${known.at(-1)}): ` +
        'restore it with that one.',
    );
  await refuseInUse(database);
  await refuseFull(database);
  await database.transaction({ name: 'restore-clear', retries: 0 }, dropEverything);
  await migrate(database, (number) => had.has(number));
  if (had.size === known.length) await useTimescale(database);
  const done = await database.transaction({ name: 'restore', retries: 0 }, (queries) =>
    takeParts(queries, reader, progress),
  );
  const migrated = await migrate(database);
  await useTimescale(database);
  await database.transaction({ name: 'restore-ingests' }, forgetIngests);
  return { head, ...done, migrated };
}

function headOf(line: string | null): FileHead {
  const head = parsed<Partial<FileHead>>(line ?? '');
  if (head?.holds !== 'holdoff-backup') throw new Error('It isn’t a backup of this program.');
  if (head.version !== 1)
    throw new Error(
      `The backup has another form (${String(head.version)}): restore it with a newer program.`,
    );
  return head as FileHead;
}

function parsed<T>(line: string): T | null {
  try {
    return JSON.parse(line) as T;
  } catch {
    return null;
  }
}

const OTHERS = statement(
  '',
  `select distinct application_name as name from pg_stat_activity
   where datname = current_database() and pid <> pg_backend_pid() and application_name ~ '^holdoff-(server|ingest)'`,
);

export async function refuseInUse(database: Database): Promise<void> {
  const others = await database.many<{ name: string }>(OTHERS);
  if (others.length > 0)
    throw new Error(`${others.map(({ name }) => name).join(' and ')} is at work there: stop it first.`);
}

async function refuseFull(database: Database): Promise<void> {
  const full: string[] = [];
  for (const { name } of await readTables(database)) {
    const { found } = await database.one<{ found: boolean }>(
      statement('', `select exists (select 1 from ${quoted(name)}) as found`),
    );
    if (found && !LEFT_BY_A_START.has(name)) full.push(name);
  }
  if (full.length > 0)
    throw new Error(
      `The installation isn’t empty (${full.slice(0, 5).join(', ')}${full.length > 5 ? ', …' : ''}): restore into an empty one, ` +
        'by another DATA_DIR or a new database in DATABASE_URL.',
    );
}

async function takeParts(
  queries: Queries,
  reader: PartReader,
  progress: RestoreOptions['progress'],
): Promise<{ tables: number; rows: number }> {
  await queries.run(statement('', 'set local statement_timeout = 0'));
  const tables = new Map((await readTables(queries)).map((table) => [table.name, table]));
  for (const name of [...tables.keys()].reverse())
    await queries.run(statement('', `delete from ${quoted(name)}`)); // rows that migrations have written
  const taken = new Set<string>();
  let [parts, rows] = [0, 0];
  for (;;) {
    const line = await reader.line();
    if (line === null) throw new Error(CUT_SHORT);
    const next = parsed<PartHead | FileEnd>(line);
    if (next === null) throw new Error(BROKEN);
    if ('whole' in next) {
      refuseMissing({ parts, rows }, next, tables, taken);
      await writeSequences(queries, next.sequences);
      return { tables: taken.size, rows };
    }
    const table = tables.get(next.table);
    if (!table) throw new Error(`The schema has no table ${next.table}: the backup isn’t of this program.`);
    rows += await takePart(queries, reader, next, (count) => progress(rows + count));
    taken.add(next.table);
    parts++;
  }
}

const BROKEN = 'The file is damaged: a line can’t be read. Nothing was restored.';

function refuseMissing(
  found: { readonly parts: number; readonly rows: number },
  end: FileEnd,
  tables: ReadonlyMap<string, Table>,
  taken: ReadonlySet<string>,
): void {
  const missing = [...tables.keys()].filter((name) => !taken.has(name));
  if (found.parts !== end.parts || found.rows !== end.rows || missing.length > 0)
    throw new Error(`The file is damaged: parts are missing${missing.map((name) => ` ${name}`).join(',')}.`);
}

async function takePart(
  queries: Queries,
  reader: PartReader,
  head: PartHead,
  progress: (rows: number) => void,
): Promise<number> {
  const tally = new Tally();
  async function* counted(): AsyncGenerator<Buffer> {
    for await (const chunk of reader.rows()) {
      tally.add(chunk);
      progress(tally.rows);
      yield chunk;
    }
  }
  if (head.weeks) await makeMissing(queries, head.weeks);
  if (head.again) await takeAgain(queries, head, counted());
  else await copyInto(queries, head.table, head.columns, counted());
  await writeNumbering(queries, { name: head.table }, head.numbering ?? []);
  const line = await reader.line();
  if (line === null) throw new Error(CUT_SHORT);
  const said = parsed<PartEnd>(line);
  const is = tally.end(head.table);
  if (said?.table !== is.table || said.rows !== is.rows || said.sha256 !== is.sha256)
    throw new Error(`The file is damaged: ${head.table} isn’t as it was written. Nothing was restored.`);
  return tally.rows;
}

const copyInto = (
  queries: Queries,
  table: string,
  columns: readonly string[],
  chunks: AsyncIterable<Buffer>,
): Promise<void> => queries.copyIn(`copy ${quoted(table)} (${listOf(columns)}) from stdin`, chunks);

/** Samples that were read once more: they are what stood at the backup's moment. */
async function takeAgain(
  queries: Queries,
  { table, columns }: PartHead,
  chunks: AsyncIterable<Buffer>,
): Promise<void> {
  await queries.run(statement('', `create temp table again (like ${quoted(table)}) on commit drop`));
  await copyInto(queries, 'again', columns, chunks);
  const list = listOf(columns);
  await queries.run(
    statement(
      '',
      `insert into ${quoted(table)} as s (${list}) select ${list} from again order by point_id, t
       on conflict (point_id, t) do update set value = excluded.value, quality = excluded.quality
       where (s.value, s.quality) is distinct from (excluded.value, excluded.quality)`,
    ),
  );
  await queries.run(statement('', 'drop table again'));
}
