import { refuseInUse } from '../backup/restore.ts';
import { LEFT_BY_A_START, quoted, type Table } from '../backup/tables.ts';
import { knownMigrations, readApplied } from '../migrate.ts';
import { statement, type Database, type Queries } from '../pool.ts';
import { readHalfDone } from './half-done.ts';

/** Why an installation isn't moved, said before anything is written. */

const IDENTITY = statement(
  '',
  `select md5(string_agg(number || ' ' || applied_at, ',' order by number)) || ' ' ||
     (select oid from pg_database where datname = current_database()) as identity from migrations`,
);

/** Names an installation: when each of its migrations ran, to the microsecond, and its server's number of the database. */
export const readIdentity = async (queries: Queries): Promise<string> =>
  (await queries.one<{ identity: string }>(IDENTITY)).identity;

const HAS_MIGRATIONS = statement('', "select 1 where to_regclass('public.migrations') is not null");

export async function refuseUnfit(from: Database, to: Database): Promise<void> {
  const [applied, known] = [
    (await from.maybe(HAS_MIGRATIONS)) ? await readApplied(from) : [],
    await knownMigrations(),
  ];
  if (applied.length === 0) throw new Error('There is no installation where DATABASE_URL and DATA_DIR lead.');
  if (applied.join() !== known.join())
    throw new Error('The installation is of another version: start this program on it once, then move.');
  if ((await to.maybe(HAS_MIGRATIONS)) && (await readIdentity(to)) === (await readIdentity(from)))
    throw new Error('--to leads to the installation itself.');
  await refuseInUse(from);
  await refuseInUse(to);
}

/** Tables there, but an extension's, partitions, and the move's own notes. */
const TABLES = statement(
  '',
  `select n.nspname as schema, c.relname as name from pg_class c join pg_namespace n on n.oid = c.relnamespace
   where c.relkind in ('r', 'p') and not c.relispartition and n.nspname !~ '^(pg_|_timescaledb)'
     and n.nspname not in ('information_schema', 'holdoff_move')
     and not exists (select from pg_depend d where d.classid = 'pg_class'::regclass and d.objid = c.oid and d.deptype = 'e')
   order by 1, 2`,
);

/** Only into an empty database, or one that holds this move half done. */
export async function refuseTarget(to: Database, source: string, tables: readonly Table[]): Promise<void> {
  const begun = await readHalfDone(to);
  if (begun && begun.source !== source)
    throw new Error(`The database at --to holds the half-done move of another installation. ${GIVE_ANOTHER}`);
  if (begun) return;
  const ours = new Set(['migrations', ...tables.map(({ name }) => name)]);
  const full: string[] = [];
  for (const { schema, name } of await to.many<{ schema: string; name: string }>(TABLES)) {
    const isOurs = schema === 'public' && ours.has(name);
    if (isOurs && (name === 'migrations' || LEFT_BY_A_START.has(name))) continue;
    if (!isOurs || (await hasRows(to, name))) full.push(isOurs ? name : `${schema}.${name}`);
  }
  if (full.length === 0) return;
  const list = `${full.slice(0, 5).join(', ')}${full.length > 5 ? ', …' : ''}`;
  throw new Error(`The database at --to isn’t empty (${list}). ${GIVE_ANOTHER}`);
}

const GIVE_ANOTHER = 'Nothing was written: make a new database there, and give that.';

const hasRows = async (queries: Queries, name: string): Promise<boolean> =>
  (
    await queries.one<{ found: boolean }>(
      statement('', `select exists (select 1 from ${quoted(name)}) as found`),
    )
  ).found;
