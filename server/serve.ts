import { resolve } from 'node:path';
import { existsSync } from 'node:fs';
import { provideDatabase } from '../db/provide.ts';
import { PAGE_FOLDER } from './build-page.ts';
import { makeLogger } from './log.ts';
import { runUntilStopped } from './run.ts';
import { readSettings } from './settings.ts';
import { startSounder } from './sounder/sounder.ts';
import { startServer } from './start-server.ts';
import { VERSION } from './version.ts';

/** The server by itself: `npm run start:server`. Any number of them may share one database. */
const logger = makeLogger('server');

await runUntilStopped(logger, async (stages) => {
  const read = readSettings(process.env);
  if (!read.ok) throw new Error(read.faults.join('\n'));
  const {
    databaseUrl,
    dataFolder,
    host,
    port,
    token,
    provider,
    notify,
    watcher,
    record,
    sounder,
    mqttUrl,
    mqttPort,
    mqttRoot,
    broker,
  } = read.settings;
  const database = await provideDatabase({ url: databaseUrl ?? undefined, dataFolder: resolve(dataFolder) });
  stages.started('database', () => database.stop());
  if (!existsSync(PAGE_FOLDER)) logger.warn('No page is built here (npm run build): only the API is served.');
  const server = await startServer({
    databaseUrl: database.url,
    databaseKind: database.embedded ? 'embedded' : 'external',
    host,
    port,
    token,
    provider,
    pageFolder: PAGE_FOLDER,
    parts: () => [],
    broker,
    logger,
    notify,
    record,
    watcher: watcher && { settings: watcher, folder: resolve(dataFolder) },
    telemetryRoot: mqttRoot,
    sounderRoot: sounder?.root ?? null,
    version: VERSION,
  });
  stages.started('server', () => server.stop());
  if (sounder !== null) {
    const brokerUrl = mqttUrl ?? `mqtt://127.0.0.1:${mqttPort}`;
    const failed = (error: unknown) => logger.error({ err: error }, 'a stack light couldn’t be told');
    const lights = startSounder({ ...sounder, database: server.database, brokerUrl, failed });
    stages.started('sounder', () => lights.stop());
  }
  logger.info(`The server is at ${server.url}`);
});
