import { createHash } from 'node:crypto';
import { readdir, readFile } from 'node:fs/promises';
import { join } from 'node:path';
import { statement, type Database, type Queries, type Session } from './pool.ts';

/**
 * Brings the schema up to date: numbered SQL files, in order, each once and in a transaction of its own, under a lock,
 * so that any number of processes may start at once. A file that has been applied is never edited: its digest is kept
 * and compared.
 */
const FOLDER = join(import.meta.dirname, 'migrations');

interface Migration {
  readonly number: number;
  readonly name: string;
  readonly text: string;
  readonly digest: string;
}

/** Answers the names of those applied now. `isWanted`: only those, for a backup that was taken when there were no others. */
export function migrate(
  database: Database,
  isWanted: (number: number) => boolean = () => true,
): Promise<string[]> {
  return database.session(async (session) => {
    await session.run(statement('', 'select pg_advisory_lock(7203, 2)'));
    try {
      return await applyMissing(session, isWanted);
    } finally {
      await session.run(statement('', 'select pg_advisory_unlock(7203, 2)'));
    }
  });
}

const LIST = statement(
  '',
  `create table if not exists migrations (
     number int primary key,
     name text not null,
     digest text not null,
     applied_at timestamptz not null default now()
   )`,
);
const APPLIED = statement('', 'select number, name, digest from migrations');
const APPLY = statement('', 'insert into migrations (number, name, digest) values ($1, $2, $3)');
const TAKE_TIME = statement('', "set local statement_timeout = '10min'");

async function applyMissing(session: Session, isWanted: (number: number) => boolean): Promise<string[]> {
  await session.run(LIST);
  const applied = new Map((await session.many<Migration>(APPLIED)).map((row) => [row.number, row]));
  const missing: string[] = [];
  for (const migration of await readMigrations()) {
    if (!isWanted(migration.number)) continue;
    const before = applied.get(migration.number);
    if (before) refuseEdited(before, migration);
    else {
      await session.transaction({ name: migration.name }, (queries) => apply(queries, migration));
      missing.push(migration.name);
    }
  }
  return missing;
}

function refuseEdited(before: Migration, now: Migration): void {
  if (before.digest !== now.digest)
    throw new Error(`${now.name} was edited after it had been applied. Write a new migration instead.`);
}

async function apply(queries: Queries, { number, name, text, digest }: Migration): Promise<void> {
  await queries.run(TAKE_TIME);
  await queries.run(statement('', text));
  await queries.run(APPLY, [number, name, digest]);
}

/** The numbers of those that this program knows, the oldest first. */
export const knownMigrations = async (): Promise<number[]> =>
  (await readMigrations()).map(({ number }) => number);

const NUMBERS = statement('', 'select number from migrations order by number');

/** The numbers of those that a database has had. */
export const readApplied = async (queries: Queries): Promise<number[]> =>
  (await queries.many<{ number: number }>(NUMBERS)).map(({ number }) => number);

async function readMigrations(): Promise<Migration[]> {
  const names = (await readdir(FOLDER)).filter((name) => /^\d{4}_[a-z0-9-]+\.sql$/.test(name)).sort();
  return Promise.all(
    names.map(async (name) => {
      const text = await readFile(join(FOLDER, name), 'utf8');
      return { number: Number(name.slice(0, 4)), name, text, digest: digestOf(text) };
    }),
  );
}

const digestOf = (text: string): string => createHash('sha256').update(text).digest('hex');
