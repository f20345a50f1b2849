import { join } from 'node:path';
import { startEmbedded, type EmbeddedPostgres } from './embedded/start.ts';
import { migrate } from './migrate.ts';
import { openDatabase, statement, type Queries } from './pool.ts';
import { useTimescale, type Storage } from './timescale.ts';

/** A database that is up to date, wherever it is. */
export interface ProvidedDatabase {
  readonly url: string;
  /** `embedded` is ours to stop; null: it is someone else's */
  readonly embedded: Pick<EmbeddedPostgres, 'how' | 'pid'> | null;
  readonly storage: Storage;
  /** To be called when every pool is closed. */
  stop(): Promise<void>;
}

export interface ProvideOptions {
  /** DATABASE_URL; undefined or empty: the embedded one */
  readonly url: string | undefined;
  readonly dataFolder: string;
}

/** Starts the embedded PostgreSQL unless there is another, migrates it, and uses TimescaleDB where it can. */
export async function provideDatabase({ url, dataFolder }: ProvideOptions): Promise<ProvidedDatabase> {
  if (url) return { url, embedded: null, storage: await prepare(url), stop: async () => {} };
  const embedded = await startEmbedded({ folder: join(dataFolder, 'postgres'), database: 'holdoff' });
  try {
    const storage = await prepare(embedded.url);
    return { url: embedded.url, embedded, storage, stop: () => embedded.stop() };
  } catch (error) {
    await embedded.stop();
    throw error;
  }
}

async function prepare(url: string): Promise<Storage> {
  const database = openDatabase({
    url,
    name: 'holdoff-start',
    connections: 2,
    statementTimeoutMs: 60_000,
    connectTimeoutMs: 10_000,
  });
  try {
    await database.transaction({ name: 'first-contact', readOnly: true, retries: 40 }, refuseOld);
    await migrate(database);
    return await useTimescale(database);
  } finally {
    await database.close();
  }
}

const VERSION = statement('', "select current_setting('server_version_num')::int as version");
/** The oldest that the schema is written for. */
const OLDEST = 150_000;

/** The first question to a database that may still be starting: 40 tries take a bit more than a minute. */
async function refuseOld(queries: Queries): Promise<void> {
  const { version } = await queries.one<{ version: number }>(VERSION);
  if (version < OLDEST)
    throw new Error(`PostgreSQL 15 or newer is needed; DATABASE_URL leads to ${version / 10_000}.`);
}
