import { setTimeout as delay } from 'node:timers/promises';
import { openDatabase, statement, type Session } from '../pool.ts';
import { EmbeddedError } from './account.ts';

/**
 * Two processes on one data folder would stop PostgreSQL under each other. The one that uses it holds an advisory lock
 * on a connection of its own; killed hard, it loses the lock with the connection.
 */
export interface Holder {
  release(): Promise<void>;
}

const TRY = statement('', 'select pg_try_advisory_lock(7203, 1) as held');
/** How long the lock of a process that was killed just now may still stand. */
const PATIENCE_MS = 5_000;

export async function holdCluster(url: string, database: string, folder: string): Promise<Holder> {
  const pool = openDatabase({
    url,
    name: `holdoff-holder-${process.pid}`,
    connections: 1,
    statementTimeoutMs: 60_000,
    connectTimeoutMs: 10_000,
  });
  let letGo = () => {};
  const end = new Promise<void>((done) => (letGo = done));
  const held = new Promise<void>((ready, failed) => {
    const session = pool.session(async (asking) => {
      await takeLock(asking, folder);
      await makeDatabase(asking, database);
      ready();
      await end;
    });
    session.catch(failed);
  });
  const release = async () => {
    letGo();
    await pool.close();
  };
  await held.catch(async (error: unknown) => {
    await pool.close();
    throw error;
  });
  return { release };
}

async function takeLock(session: Session, folder: string): Promise<void> {
  for (let waited = 0; waited <= PATIENCE_MS; waited += 100) {
    if ((await session.one<{ held: boolean }>(TRY)).held) return;
    await delay(100);
  }
  throw new EmbeddedError(`Another process uses the data in ${folder}. Stop it, or set another DATA_DIR.`);
}

const THERE = statement('', 'select 1 from pg_database where datname = $1');

async function makeDatabase(session: Session, name: string): Promise<void> {
  if (await session.maybe(THERE, [name])) return;
  await session.run(statement('', `create database "${name.replaceAll('"', '""')}"`));
}
