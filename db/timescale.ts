import { arePartitioned } from './partitions.ts';
import { retryReason } from './sqlstate.ts';
import { statement, type Database, type Queries, type Session } from './pool.ts';

/** Where the samples lie; shown by `/api/ready`. */
export type Storage =
  | { readonly kind: 'timescaledb'; readonly postgres: string; readonly version: string }
  | {
      readonly kind: 'postgresql';
      readonly postgres: string;
      /** why not TimescaleDB: it isn't installed there, or we may not create it */
      readonly why: 'not-available' | 'not-allowed';
    };

const AVAILABLE = statement('', "select 1 from pg_available_extensions where name = 'timescaledb'");
const INSTALLED = statement(
  '',
  "select extversion as version from pg_extension where extname = 'timescaledb'",
);
const CREATE = statement('', 'create extension if not exists timescaledb');
const SERVER = statement('', "select current_setting('server_version') as version");
/** By weeks. Every unique key holds `t`, as a hypertable asks; an index by `t` alone would be read by nobody, and is 40 % more. */
const CONVERT = statement(
  '',
  `select create_hypertable('samples', by_range('t', interval '7 days'), create_default_indexes => false,
     if_not_exists => true, migrate_data => true)`,
);
/** A table in partitions can't become a hypertable: what is in it is moved into one that can. */
const SET_ASIDE = statement(
  '',
  `alter table samples rename to samples_by_weeks;
   alter table samples_by_weeks rename constraint samples_pkey to samples_by_weeks_pkey;
   create table samples (like samples_by_weeks);
   alter table samples add primary key (point_id, t)`,
);
const MOVE = statement('', 'insert into samples select * from samples_by_weeks; drop table samples_by_weeks');
const TAKE_TIME = statement('', "set local statement_timeout = '30min'");

/**
 * insufficient_privilege; and what may come where the extension is there but not fit for this server: not preloaded, or its
 * library missing (from memory, no server of that kind was at hand).
 */
const REFUSALS = new Set(['42501', '0A000', '58P01', 'XX000', '55000']);
const LOCK = statement('', 'select pg_advisory_lock(7203, 2)');
const UNLOCK = statement('', 'select pg_advisory_unlock(7203, 2)');

/** Uses TimescaleDB where the server has it and lets us; safe to call at every start. */
export async function useTimescale(database: Database): Promise<Storage> {
  const { version: postgres } = await database.one<{ version: string }>(SERVER);
  if (!(await database.maybe(AVAILABLE))) return { kind: 'postgresql', postgres, why: 'not-available' };
  try {
    await database.session(convert);
  } catch (error) {
    const code = (error as { code?: unknown }).code;
    if (retryReason(error) !== null || typeof code !== 'string' || !REFUSALS.has(code)) throw error;
    return { kind: 'postgresql', postgres, why: 'not-allowed' };
  }
  return readStorage(database);
}

/** Under the lock of the migrations: any number of processes may start at once. */
async function convert(session: Session): Promise<void> {
  await session.run(LOCK);
  try {
    await session.run(CREATE);
    await session.transaction({ name: 'hypertable' }, makeHypertables);
  } finally {
    await session.run(UNLOCK).catch(() => {}); // the connection may be what failed; the lock goes with it
  }
}

async function makeHypertables(queries: Queries): Promise<void> {
  await queries.run(TAKE_TIME);
  const inPartitions = await arePartitioned(queries);
  if (inPartitions) await queries.run(SET_ASIDE);
  await queries.run(CONVERT);
  if (inPartitions) await queries.run(MOVE);
}

const IS_HYPERTABLE = statement(
  '',
  "select 1 from timescaledb_information.hypertables where hypertable_name = 'samples'",
);

/** What is in use now. */
export async function readStorage(queries: Queries): Promise<Storage> {
  const { version: postgres } = await queries.one<{ version: string }>(SERVER);
  const installed = await queries.maybe<{ version: string }>(INSTALLED);
  if (installed && (await queries.maybe(IS_HYPERTABLE)))
    return { kind: 'timescaledb', postgres, version: installed.version };
  const why = (await queries.maybe(AVAILABLE)) ? 'not-allowed' : 'not-available';
  return { kind: 'postgresql', postgres, why };
}
