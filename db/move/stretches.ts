import type { Instant } from '../../shared/base/instant.ts';
import { listOf, quoted, type Table } from '../backup/tables.ts';
import { EVERYTHING, readRanges } from '../partitions.ts';
import { statement, type Queries } from '../pool.ts';
import { timeParameter } from '../values.ts';

/** Rows of one table that are copied and compared together: of samples those of a week, of any other table all of them. */
export interface Stretch {
  readonly table: Table;
  readonly from: Instant;
  readonly before: Instant;
}

/** All stretches of all tables. Those of samples leave no time out, so that nothing lies beside them unseen. */
export async function readStretches(queries: Queries, tables: readonly Table[]): Promise<Stretch[]> {
  const ranges = await readRanges(queries);
  return tables.flatMap((table) =>
    table.name === 'samples' ? [...wholeLine(table, ranges)] : [{ table, ...EVERYTHING }],
  );
}

function* wholeLine(table: Table, ranges: readonly Omit<Stretch, 'table'>[]): Iterable<Stretch> {
  let end = -Infinity;
  for (const { from, before } of ranges) {
    if (from > end) yield { table, from: end, before: from };
    yield { table, from, before };
    end = before;
  }
  if (end < Infinity) yield { table, from: end, before: Infinity };
}

export const whereOf = ({ table, from, before }: Stretch): string =>
  table.name === 'samples' ? `t >= '${timeParameter(from)}' and t < '${timeParameter(before)}'` : 'true';

/** The key of a row, each column as a literal of SQL. */
export type Place = readonly string[];

export interface Page {
  /** null: from the beginning */
  readonly after: Place | null;
  /** the last row in it; null: to the end */
  readonly last: Place | null;
}

/** The page of at most `rows` rows that follows. */
export async function nextPage(
  queries: Queries,
  stretch: Stretch,
  after: Place | null,
  rows: number,
): Promise<Page> {
  const { table } = stretch;
  const key = table.key.map(({ name }) => name);
  const literals = key.map((name) => `quote_literal(${quoted(name)}::text)`).join(', ');
  const end = await queries.maybe<{ last: string[] }>(
    statement(
      '',
      `select array[${literals}] as last from ${quoted(table.name)}
       where ${[whereOf(stretch), ...beyond(table, after, '>')].join(' and ')}
       order by ${listOf(key)} offset ${rows - 1} limit 1`,
    ),
  );
  return { after, last: end?.last ?? null };
}

export function copyText(stretch: Stretch, { after, last }: Page): string {
  const { table } = stretch;
  const where = [whereOf(stretch), ...beyond(table, after, '>'), ...beyond(table, last, '<=')].join(' and ');
  return `copy (select ${listOf(table.columns)} from ${quoted(table.name)} where ${where}) to stdout`;
}

const beyond = ({ key }: Table, place: Place | null, how: '>' | '<='): string[] =>
  place === null ? [] : [`(${listOf(key.map(({ name }) => name))}) ${how} (${place.join(', ')})`];

/** How many rows, and 128 bits of all that is in them, in whatever order a server keeps them. */
export interface Sum {
  readonly rows: number;
  readonly digest: string;
}

export function readSum(queries: Queries, stretch: Stretch): Promise<Sum> {
  const { name, columns } = stretch.table;
  const values = columns.map((column) => `${quoted(column)}::text`).join(', ');
  const half = (from: string) => `coalesce(bit_xor(('x' || ${from}(md5, 16))::bit(64)::bigint), 0)`;
  return queries.one(
    statement(
      '',
      `select count(*) as rows, ${half('left')} || ' ' || ${half('right')} as digest
       from (select md5(row(${values})::text) from ${quoted(name)} where ${whereOf(stretch)}) as digests`,
    ),
  );
}

export const readRows = async (queries: Queries, { name }: Table): Promise<number> =>
  (await queries.one<{ rows: number }>(statement('', `select count(*) as rows from ${quoted(name)}`))).rows;
