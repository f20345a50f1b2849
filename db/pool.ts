import pg from 'pg';
import { from as copyFrom, to as copyTo } from 'pg-copy-streams';
import { Readable } from 'node:stream';
import { pipeline } from 'node:stream/promises';
import { setTimeout as delay } from 'node:timers/promises';
import { parsers } from './values.ts';
import { retryDelay, retryReason, type RetryReason } from './sqlstate.ts';

/**
 * The one door to PostgreSQL. Everything has its bound: connections, the wait for one, each statement, idle
 * transactions, attempts. `timestamptz` comes back as an Instant (±Infinity for 'infinity'), `bigint` as a number.
 */
export interface DatabaseOptions {
  /** postgres://… */
  readonly url: string;
  /** shown in pg_stat_activity */
  readonly name: string;
  readonly connections: number;
  readonly statementTimeoutMs: number;
  readonly connectTimeoutMs: number;
  readonly observe?: (observation: DatabaseObservation) => void;
}

export type DatabaseObservation =
  | {
      readonly kind: 'retried';
      readonly transaction: string;
      readonly reason: RetryReason;
      readonly attempt: number;
    }
  | { readonly kind: 'connection-lost'; readonly error: Error };

/** A statement with the name under which PostgreSQL keeps its plan; '' for one that is sent once in a while. */
export interface Statement {
  readonly name: string;
  readonly text: string;
}

export const statement = (name: string, text: string): Statement => ({ name, text });

/** What may be asked, inside a transaction or out of one. */
export interface Queries {
  /** all rows: bound the statement itself */
  many<Row>(statement: Statement, values?: readonly unknown[]): Promise<Row[]>;
  /** exactly one row, else an error */
  one<Row>(statement: Statement, values?: readonly unknown[]): Promise<Row>;
  /** the first row, or null */
  maybe<Row>(statement: Statement, values?: readonly unknown[]): Promise<Row | null>;
  /** the number of rows touched */
  run(statement: Statement, values?: readonly unknown[]): Promise<number>;
  /** `COPY (…) TO STDOUT (FORMAT binary)`; no parameters, so only numbers that we made may be written into the text */
  copyOut(text: string): AsyncIterable<Buffer>;
  /** `COPY … FROM STDIN`, given to its end; a fault of the data is an error like any statement's */
  copyIn(text: string, chunks: Iterable<Buffer> | AsyncIterable<Buffer>): Promise<void>;
}

export interface TransactionOptions {
  /** for observations */
  readonly name: string;
  /** default: read committed, where each statement sees what was committed before it */
  readonly isolation?: 'read committed' | 'repeatable read';
  readonly readOnly?: boolean;
  /** attempts after the first; the work must be the same when it is done twice, for a lost COMMIT has no answer */
  readonly retries?: number;
}

export interface Transactions {
  transaction<T>(options: TransactionOptions, work: (queries: Queries) => Promise<T>): Promise<T>;
}

/** One connection held by one caller: session advisory locks live here. Bound by the pool's connections. */
export type Session = Queries & Transactions;

export interface Database extends Queries, Transactions {
  session<T>(work: (session: Session) => Promise<T>): Promise<T>;
  /** connections in use, idle, and callers waiting for one */
  readonly load: { readonly used: number; readonly idle: number; readonly waiting: number };
  close(): Promise<void>;
}

const DEFAULT_RETRIES = 8;

export function openDatabase(options: DatabaseOptions): Database {
  const observe = options.observe ?? (() => {});
  const pool = new pg.Pool({
    connectionString: options.url,
    application_name: options.name,
    max: options.connections,
    min: 0,
    idleTimeoutMillis: 30_000,
    connectionTimeoutMillis: options.connectTimeoutMs,
    statement_timeout: options.statementTimeoutMs,
    idle_in_transaction_session_timeout: 60_000,
    keepAlive: true,
    // short statements all: compiling one costs more than it saves
    options: '-c TimeZone=UTC -c DateStyle=ISO -c bytea_output=hex -c jit=off',
    types: parsers,
  });
  pool.on('error', (error) => observe({ kind: 'connection-lost', error }));

  async function withClient<T>(work: (client: pg.PoolClient) => Promise<T>): Promise<T> {
    const client = await pool.connect();
    let broken = false;
    const lost = () => (broken = true);
    client.on('error', lost);
    try {
      return await work(client);
    } catch (error) {
      broken ||= retryReason(error) === 'connection';
      throw error;
    } finally {
      client.off('error', lost);
      client.release(broken);
    }
  }

  return {
    ...queriesOn((config) => withClient((client) => client.query(config)), {
      copyOut: (text) => copyOwn(pool, text),
      copyIn: (text, chunks) => withClient((client) => copyInto(client, text, chunks)),
    }),
    transaction: (how, work) =>
      retried(how, observe, () => withClient((client) => inTransaction(client, how, work))),
    session: (work) =>
      withClient((client) =>
        work({
          ...clientQueries(client),
          transaction: (how, inner) => retriedOn(client, how, observe, inner),
        }),
      ),
    get load() {
      return { used: pool.totalCount - pool.idleCount, idle: pool.idleCount, waiting: pool.waitingCount };
    },
    close: () => pool.end(),
  };
}

type Ask = (config: pg.QueryConfig) => Promise<pg.QueryResult>;

type Copies = Pick<Queries, 'copyOut' | 'copyIn'>;

function queriesOn(ask: Ask, copies: Copies): Queries {
  const send = ({ name, text }: Statement, values: readonly unknown[] = []) =>
    ask(name === '' ? { text, values: [...values] } : { name, text, values: [...values] });
  return {
    many: async <Row>(what: Statement, values?: readonly unknown[]) =>
      (await send(what, values)).rows as Row[],
    maybe: async <Row>(what: Statement, values?: readonly unknown[]) =>
      ((await send(what, values)).rows[0] as Row | undefined) ?? null,
    one: async <Row>(what: Statement, values?: readonly unknown[]) => {
      const { rows } = await send(what, values);
      if (rows.length !== 1)
        throw new Error(`${what.name || what.text}: one row expected, ${rows.length} came`);
      return rows[0] as Row;
    },
    run: async (what, values) => (await send(what, values)).rowCount ?? 0,
    ...copies,
  };
}

const clientQueries = (client: pg.PoolClient): Queries =>
  queriesOn((config) => client.query(config), {
    copyOut: (text) => client.query(copyTo(text)) as AsyncIterable<Buffer>,
    copyIn: (text, chunks) => copyInto(client, text, chunks),
  });

const copyInto = (client: pg.PoolClient, text: string, chunks: Iterable<Buffer> | AsyncIterable<Buffer>) =>
  pipeline(Readable.from(chunks), client.query(copyFrom(text)));

async function* copyOwn(pool: pg.Pool, text: string): AsyncIterable<Buffer> {
  const client = await pool.connect();
  let whole = false;
  try {
    yield* client.query(copyTo(text)) as AsyncIterable<Buffer>;
    whole = true;
  } finally {
    client.release(!whole); // a stream left half read would answer the next statement
  }
}

async function inTransaction<T>(
  client: pg.PoolClient,
  how: TransactionOptions,
  work: (queries: Queries) => Promise<T>,
): Promise<T> {
  const access = how.readOnly ? ' read only' : '';
  await client.query(`begin isolation level ${how.isolation ?? 'read committed'}${access}`);
  try {
    const result = await work(clientQueries(client));
    await client.query('commit');
    return result;
  } catch (error) {
    if (retryReason(error) !== 'connection') await client.query('rollback').catch(() => {});
    throw error;
  }
}

async function retried<T>(
  how: TransactionOptions,
  observe: (observation: DatabaseObservation) => void,
  attempt: () => Promise<T>,
  retriable: (reason: RetryReason) => boolean = () => true,
): Promise<T> {
  const retries = how.retries ?? DEFAULT_RETRIES;
  for (let tried = 0; ; tried++) {
    try {
      return await attempt();
    } catch (error) {
      const reason = retryReason(error);
      if (reason === null || tried >= retries || !retriable(reason)) throw error;
      observe({ kind: 'retried', transaction: how.name, reason, attempt: tried + 1 });
      await delay(retryDelay(tried, Math.random()));
    }
  }
}

/** On a held connection a lost connection can't be tried again: its locks went with it. */
const retriedOn = <T>(
  client: pg.PoolClient,
  how: TransactionOptions,
  observe: (observation: DatabaseObservation) => void,
  work: (queries: Queries) => Promise<T>,
): Promise<T> =>
  retried(
    how,
    observe,
    () => inTransaction(client, how, work),
    (reason) => reason !== 'connection',
  );
