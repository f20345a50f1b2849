import { once } from 'node:events';
import { createWriteStream } from 'node:fs';
import { rename, rm, stat } from 'node:fs/promises';
import { finished } from 'node:stream/promises';
import { createGzip } from 'node:zlib';
import { knownMigrations, readApplied } from '../db/migrate.ts';
import { openInstallation } from '../db/open-installation.ts';
import type { Database } from '../db/pool.ts';
import { writeBackup, type BackupDone } from '../db/backup/write.ts';
import { say, showProgress } from './command.ts';
import { runStoreCommand } from './store-command.ts';
import { VERSION } from './version.ts';

const HELP = `npm run backup -- <file>

Writes the whole installation into one file, while it runs: configuration, samples, events, alarms, people, all of it. DATABASE_URL
and DATA_DIR say which. The file holds secrets (digests of passwords and tokens, sessions, keys that sign): only its owner may
read it, and it belongs where the database's own files would. What waits in a broker isn't in it.`;

/** `npm run backup -- <file>`: has its name once it is whole and on disk. */
await runStoreCommand(HELP, async ({ word: file, settings }) => {
  if (await stat(file).catch(() => null)) throw new Error(`${file} is there already: give another name.`);
  const { databaseUrl: url, dataFolder } = settings;
  const installation = await openInstallation({ url, dataFolder, alone: false });
  try {
    await refuseOlder(installation.database);
    const done = await writeFile(installation.database, file);
    showProgress('');
    say(
      `${file} is whole: ${done.rows} rows of ${done.tables} tables. It holds secrets: keep it as you keep the database.`,
    );
  } finally {
    await installation.close();
  }
});

async function refuseOlder(database: Database): Promise<void> {
  const [applied, known] = [await readApplied(database), await knownMigrations()];
  if (applied.join() !== known.join())
    throw new Error(
      'The database is of another version: start this program on it once, or back up with the program that runs.',
    );
}

/** Quick rather than small: a text of numbers shrinks to a sixth all the same. */
const GZIP_LEVEL = 2;

async function writeFile(database: Database, file: string): Promise<BackupDone> {
  const part = `${file}.part`;
  const gzip = createGzip({ level: GZIP_LEVEL });
  const out = createWriteStream(part, { mode: 0o600, flags: 'w', flush: true });
  gzip.pipe(out);
  const failed = new Promise<never>((_, reject) => {
    for (const stream of [gzip, out]) stream.once('error', reject);
  });
  failed.catch(() => {}); // told where it is waited for
  const write = async (chunk: Buffer): Promise<void> => {
    if (!gzip.write(chunk)) await Promise.race([once(gzip, 'drain'), failed]);
  };
  try {
    const done = await Promise.race([
      writeBackup(database, { program: VERSION, now: Date.now() * 1000, write, progress }),
      failed,
    ]);
    gzip.end();
    await Promise.race([finished(out), failed]);
    await rename(part, file);
    return done;
  } catch (error) {
    out.destroy();
    await rm(part, { force: true });
    throw error;
  }
}

function progress(rows: number, estimated: number): void {
  const share = estimated > 0 ? Math.min(99, Math.floor((100 * rows) / estimated)) : 0;
  showProgress(`${share} %, ${rows} rows`);
}
