import { join } from 'node:path';
import { attachEmbedded } from './embedded/attach.ts';
import { startEmbedded } from './embedded/start.ts';
import { openDatabase, type Database } from './pool.ts';

/** The database of an installation, for commands that work on it from outside. */
export interface OpenInstallation {
  readonly url: string;
  readonly database: Database;
  close(): Promise<void>;
}

export interface WhichInstallation {
  /** DATABASE_URL; null: the embedded one */
  readonly url: string | null;
  readonly dataFolder: string;
  /** true: nobody else may be at work on an embedded one. false: whoever runs it is left to it */
  readonly alone: boolean;
}

const NAME = 'holdoff-command';
/** Long, for one statement may read a whole table. */
const STATEMENT_TIMEOUT_MS = 6 * 3_600_000;

export async function openInstallation({
  url,
  dataFolder,
  alone,
}: WhichInstallation): Promise<OpenInstallation> {
  const { address, stop } = await addressOf(url, join(dataFolder, 'postgres'), alone);
  const database = openDatabase({
    url: address,
    name: NAME,
    connections: 4,
    statementTimeoutMs: STATEMENT_TIMEOUT_MS,
    connectTimeoutMs: 10_000,
  });
  return {
    url: address,
    database,
    close: async () => {
      await database.close();
      await stop();
    },
  };
}

async function addressOf(
  url: string | null,
  folder: string,
  alone: boolean,
): Promise<{ address: string; stop: () => Promise<void> }> {
  if (url !== null) return { address: url, stop: async () => {} };
  const running = alone ? null : await attachEmbedded(folder, 'holdoff');
  if (running !== null) return { address: running, stop: async () => {} };
  const embedded = await startEmbedded({ folder, database: 'holdoff' });
  return { address: embedded.url, stop: () => embedded.stop() };
}
