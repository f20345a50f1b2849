import { resolve } from 'node:path';
import { pino } from 'pino';
import { provideDatabase } from '../db/provide.ts';
import { logObservations } from './log.ts';
import { readIngestSettings } from './settings.ts';
import { startIngest } from './start.ts';

/**
 * Ingest by itself: `npm run start:ingest`. Ends in order on SIGINT, SIGTERM and SIGHUP; one that comes while it starts is
 * heeded when it has started, so that no half-started part is left.
 */
const logger = pino({ name: 'ingest', level: process.env['LOG_LEVEL'] ?? 'info' });
const told = new Promise<void>((stop) => {
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, () => stop());
});

try {
  await run();
} catch (error) {
  logger.fatal({ error: error instanceof Error ? error.message : String(error) }, 'ingest has failed');
  process.exitCode = 1;
}

async function run(): Promise<void> {
  const dataFolder = resolve(process.env['DATA_DIR'] ?? 'data');
  const settings = readIngestSettings(process.env, dataFolder);
  const database = await provideDatabase({ url: process.env['DATABASE_URL'], dataFolder });
  try {
    logger.info(database.storage, 'database');
    const observe = logObservations(logger);
    const ingest = await startIngest({ ...settings, databaseUrl: database.url, observe });
    await told;
    await ingest.stop();
  } finally {
    await database.stop();
  }
}
