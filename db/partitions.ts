import { seconds, type Instant } from '../shared/base/instant.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * Samples lie together by weeks: in plain PostgreSQL each week is a partition, with TimescaleDB a chunk, on the same grid (weeks
 * begin on Thursdays, as 1970 did). A partition is made by whoever is about to write into a week that has none. There
 * is no default partition: it would take in what has no place, and then hold up the making of that place with a scan of it.
 */
export const WEEK = seconds(7 * 86_400);

export const weekOf = (t: Instant): Instant => Math.floor(t / WEEK) * WEEK;

export interface Partition {
  readonly name: string;
  /** -Infinity: what there was before there were partitions */
  readonly from: Instant;
  readonly before: Instant;
}

const KIND = statement('', "select relkind as kind from pg_class where oid = 'samples'::regclass");

export const arePartitioned = async (queries: Queries): Promise<boolean> =>
  (await queries.one<{ kind: string }>(KIND)).kind === 'p';

const READ = statement(
  '',
  `select c.relname as name,
     coalesce(substring(pg_get_expr(c.relpartbound, c.oid) from 'FROM \\(''([^'']+)''\\)')::timestamptz, '-infinity') as from,
     coalesce(substring(pg_get_expr(c.relpartbound, c.oid) from 'TO \\(''([^'']+)''\\)')::timestamptz, 'infinity') as before
   from pg_inherits i join pg_class c on c.oid = i.inhrelid where i.inhparent = 'samples'::regclass order by 2`,
);

/** Of plain PostgreSQL, in order of time; none with TimescaleDB. */
export async function readPartitions(queries: Queries): Promise<Partition[]> {
  return (await arePartitioned(queries)) ? queries.many<Partition>(READ) : [];
}

/** One at a time; commits go on meanwhile, for attaching a partition asks for no more than they leave. */
const ALONE = statement('', 'select pg_advisory_xact_lock(7203, 10)');

/** Makes those weeks that have no partition yet; with TimescaleDB there is nothing to do. */
export const makePartitions = (database: Database, weeks: Iterable<Instant>): Promise<void> =>
  database.transaction({ name: 'partitions' }, (queries) => makeMissing(queries, weeks));

/** The same within a transaction. */
export async function makeMissing(queries: Queries, weeks: Iterable<Instant>): Promise<void> {
  await queries.run(ALONE);
  if (!(await arePartitioned(queries))) return;
  const there = await queries.many<Partition>(READ);
  for (const week of weeks)
    if (!there.some(({ from, before }) => from <= week && week < before)) await makePartition(queries, week);
}

/** Attached when it is whole: `create … partition of` would hold up every commit. */
async function makePartition(queries: Queries, week: Instant): Promise<void> {
  const [from, before] = [timeParameter(week), timeParameter(week + WEEK)];
  const name = `samples_${from.slice(0, 10).replaceAll('-', '')}`;
  await queries.run(statement('', `create table ${name} (like samples including all)`));
  await queries.run(
    statement(
      '',
      `alter table samples attach partition ${name} for values from ('${from}') to ('${before}')`,
    ),
  );
}

/** Weeks that are known to have their place, of each database that this process writes to. */
const known = new WeakMap<Database, Set<Instant>>();

/** Before rows of these times are written: their weeks have a place. Costs nothing where they are known to have one. */
export async function providePlaces(
  database: Database,
  ...times: readonly ArrayLike<Instant>[]
): Promise<void> {
  const placed = known.get(database) ?? new Set<Instant>();
  known.set(database, placed);
  const missing = new Set<Instant>();
  let last = NaN;
  for (const column of times)
    for (let i = 0; i < column.length; i++) {
      const week = weekOf(column[i]!);
      if (week !== last && !placed.has(week)) missing.add(week);
      last = week;
    }
  if (missing.size === 0) return;
  await makePartitions(database, missing);
  for (const week of missing) placed.add(week);
}

/** A week that had its place has lost it since: false where the error is another one. */
export function losesPlaces(database: Database, error: unknown): boolean {
  const isLost =
    error instanceof Error &&
    (error as { code?: unknown }).code === '23514' &&
    error.message.includes('no partition');
  if (isLost) known.delete(database);
  return isLost;
}

export interface SampleRange {
  readonly from: Instant;
  readonly before: Instant;
}

const IS_HYPERTABLE = statement(
  '',
  `select 1 from pg_extension e where e.extname = 'timescaledb' and (select relkind from pg_class where oid = 'samples'::regclass) = 'r'`,
);
const CHUNKS = statement(
  '',
  `select range_start as from, range_end as before from timescaledb_information.chunks
   where hypertable_schema = 'public' and hypertable_name = 'samples' order by 1`,
);
export const EVERYTHING: SampleRange = { from: -Infinity, before: Infinity };

/** The stretches in which samples lie together, in order of time: reading one after the other reads each once. */
export async function readRanges(queries: Queries): Promise<SampleRange[]> {
  if (await arePartitioned(queries)) return queries.many<Partition>(READ);
  if (!(await queries.maybe(IS_HYPERTABLE))) return [EVERYTHING];
  const chunks = await queries.many<SampleRange>(CHUNKS);
  return chunks.length > 0 ? chunks : [EVERYTHING];
}

const WEEKS_OF = (where: string) =>
  `select distinct date_bin('7 days', t, '1970-01-01Z') as week from samples where ${where}`;

/** The weeks that may have samples in these ranges: what is open to one side is looked through. */
export async function weeksIn(queries: Queries, ranges: readonly SampleRange[]): Promise<Instant[]> {
  const weeks = new Set<Instant>();
  for (const { from, before } of ranges) {
    const isOpen = from === -Infinity || before === Infinity;
    if (!isOpen) for (let week = weekOf(from); week < before; week += WEEK) weeks.add(week);
    else {
      const where = `t >= '${timeParameter(from)}' and t < '${timeParameter(before)}'`;
      for (const { week } of await queries.many<{ week: Instant }>(statement('', WEEKS_OF(where))))
        weeks.add(week);
    }
  }
  return [...weeks].sort((a, b) => a - b);
}
