import { createReadStream } from 'node:fs';
import { stat } from 'node:fs/promises';
import { pipeline } from 'node:stream/promises';
import { createGunzip } from 'node:zlib';
import { restoreBackup, type RestoreDone } from '../db/backup/restore.ts';
import { openInstallation } from '../db/open-installation.ts';
import type { Database } from '../db/pool.ts';
import { say, showProgress } from './command.ts';
import { runStoreCommand } from './store-command.ts';

const HELP = `npm run restore -- <file>

Fills an empty installation from a backup: all of it, or nothing. DATABASE_URL and DATA_DIR say which installation; nothing may be
at work on it. Whoever was signed in when the backup was taken is signed in again, and tokens that were withdrawn since
hold again: look them over.`;

/** `npm run restore -- <file>` */
await runStoreCommand(HELP, async ({ word: file, settings }) => {
  const bytes = (await stat(file)).size;
  const { databaseUrl: url, dataFolder } = settings;
  const installation = await openInstallation({ url, dataFolder, alone: true });
  try {
    const { head, rows, tables, migrated } = await restoreFile(installation.database, file, bytes);
    showProgress('');
    say(`${rows} rows of ${tables} tables are back, as they stood on ${head.madeAt}. Start it now.`);
    if (migrated.length > 0) say(`The backup was older: ${migrated.join(', ')} followed.`);
  } finally {
    await installation.close();
  }
});

async function restoreFile(database: Database, file: string, bytes: number): Promise<RestoreDone> {
  const from = createReadStream(file);
  const unpacked = createGunzip();
  // its failure is that of whoever reads it
  const reading = pipeline(from, unpacked).catch(() => {});
  const progress = (rows: number): void =>
    showProgress(`${Math.floor((100 * from.bytesRead) / bytes)} %, ${rows} rows`);
  try {
    return await restoreBackup(database, { chunks: unpacked, progress });
  } catch (error) {
    if ((error as NodeJS.ErrnoException).code === 'Z_BUF_ERROR')
      throw new Error('The file ends too early: it was cut short. Nothing was restored.', { cause: error });
    if ((error as NodeJS.ErrnoException).code?.startsWith('Z_') === true)
      throw new Error('The file is damaged, or isn’t a backup. Nothing was restored.', { cause: error });
    throw error;
  } finally {
    from.destroy();
    unpacked.destroy();
    await reading;
  }
}
