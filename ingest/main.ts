import { resolve } from 'node:path';
import { pino } from 'pino';
import { provideDatabase } from '../db/provide.ts';
import { logObservations } from './log.ts';
import { readIngestSettings } from './settings.ts';
import { startIngest } from './start.ts';

/** Ingest by itself: `npm run start:ingest`. Ends in order on SIGINT and SIGTERM. */
const logger = pino({ name: 'ingest', level: process.env['LOG_LEVEL'] ?? 'info' });

try {
  const dataFolder = resolve(process.env['DATA_DIR'] ?? 'data');
  const settings = readIngestSettings(process.env, dataFolder);
  const database = await provideDatabase({ url: process.env['DATABASE_URL'], dataFolder });
  logger.info(database.storage, 'database');
  const ingest = await startIngest({
    ...settings,
    databaseUrl: database.url,
    observe: logObservations(logger),
  });
  let stopping = false;
  const stop = async () => {
    if (stopping) return;
    stopping = true;
    await ingest.stop();
    await database.stop();
  };
  for (const signal of ['SIGINT', 'SIGTERM'] as const) process.on(signal, () => void stop());
} catch (error) {
  logger.fatal({ error: error instanceof Error ? error.message : String(error) }, 'ingest can’t start');
  process.exitCode = 1;
}
