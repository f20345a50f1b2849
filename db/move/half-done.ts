import { timeParameter } from '../values.ts';
import { statement, type Queries } from '../pool.ts';
import type { Place, Stretch } from './stretches.ts';

/**
 * What a move notes at its target, in a schema of its own that goes when all is compared: whose rows come there, and how far
 * each stretch is. Each page is noted in the transaction that writes it, so that a move may be killed at any time.
 */
const MAKE = statement(
  '',
  `create schema holdoff_move;
   create table holdoff_move.move (source text primary key, is_prepared boolean not null);
   create table holdoff_move.stretches (
     table_name text, from_t timestamptz, rows bigint not null, last text, is_whole boolean not null,
     primary key (table_name, from_t))`,
);
const IS_THERE = statement('', "select 1 from pg_namespace where nspname = 'holdoff_move'");
const READ = statement('', 'select source, is_prepared as "isPrepared" from holdoff_move.move');
const WRITE = statement('', 'insert into holdoff_move.move values ($1, false)');
const PREPARED = statement('', 'update holdoff_move.move set is_prepared = true');
const DROP = statement('', 'drop schema holdoff_move cascade');

export interface HalfDone {
  /** names the installation whose rows come (`readIdentity`) */
  readonly source: string;
  /** the schema stands, and every table is empty but for what was copied */
  readonly isPrepared: boolean;
}

export const readHalfDone = async (queries: Queries): Promise<HalfDone | null> =>
  (await queries.maybe(IS_THERE)) ? queries.maybe<HalfDone>(READ) : null;

export async function beginMove(queries: Queries, source: string): Promise<void> {
  await queries.run(MAKE);
  await queries.run(WRITE, [source]);
}

export const notePrepared = (queries: Queries): Promise<number> => queries.run(PREPARED);

export const endMove = (queries: Queries): Promise<number> => queries.run(DROP);

export interface Copied {
  readonly rows: number;
  /** the last row that was copied */
  readonly last: Place | null;
  readonly isWhole: boolean;
}

const READ_COPIED = statement(
  '',
  `select rows, last, is_whole as "isWhole" from holdoff_move.stretches where table_name = $1 and from_t = $2`,
);
const NOTE = statement(
  '',
  `insert into holdoff_move.stretches values ($1, $2, $3, $4, $5)
   on conflict (table_name, from_t) do update
   set rows = excluded.rows, last = excluded.last, is_whole = excluded.is_whole`,
);
const FORGET = statement('', 'delete from holdoff_move.stretches where table_name = $1 and from_t = $2');

export async function readCopied(queries: Queries, { table, from }: Stretch): Promise<Copied> {
  const found = await queries.maybe<Omit<Copied, 'last'> & { readonly last: string | null }>(READ_COPIED, [
    table.name,
    timeParameter(from),
  ]);
  if (!found) return { rows: 0, last: null, isWhole: false };
  return { ...found, last: found.last === null ? null : (JSON.parse(found.last) as Place) };
}

export async function noteCopied(
  queries: Queries,
  { table, from }: Stretch,
  { rows, last, isWhole }: Copied,
): Promise<void> {
  const place = last && JSON.stringify(last);
  await queries.run(NOTE, [table.name, timeParameter(from), rows, place, isWhole]);
}

export const forgetCopied = (queries: Queries, { table, from }: Stretch): Promise<number> =>
  queries.run(FORGET, [table.name, timeParameter(from)]);
