import { resolve } from 'node:path';
import { provideDatabase } from '../db/provide.ts';
import { forgetIngest, leaveGroup } from './leave.ts';
import { logObservations, makeIngestLogger } from './log.ts';
import { openMetricsDoor, type MetricsDoor } from './metrics-door.ts';
import { countObservations, makeIngestRegistry } from './metrics.ts';
import { readIngestSettings, readMetricsPlace } from './settings.ts';
import { startIngest, type Ingest } from './start.ts';

/**
 * Ingest by itself: `npm run start:ingest`. Ends in order on SIGINT, SIGTERM and SIGHUP; one that comes while it starts is
 * heeded when it has started, so that no half-started part is left. With `-- --leave` it scales down instead: it takes what
 * the broker still holds for this member of a group, and ends its membership; with `-- --forget` it only ends that.
 */
const logger = makeIngestLogger(process.env['LOG_LEVEL'] ?? 'info');
const told = new Promise<void>((stop) => {
  for (const signal of ['SIGINT', 'SIGTERM', 'SIGHUP'] as const) process.on(signal, () => stop());
});

try {
  await run();
} catch (error) {
  logger.fatal({ err: error }, 'ingest has failed');
  process.exitCode = 1;
}

async function run(): Promise<void> {
  const dataFolder = resolve(process.env['DATA_DIR'] ?? 'data');
  const settings = readIngestSettings(process.env, dataFolder);
  const place = readMetricsPlace(process.env);
  const database = await provideDatabase({ url: process.env['DATABASE_URL'], dataFolder });
  let door: MetricsDoor | null = null;
  try {
    logger.info({ details: database.storage }, 'the database is ready');
    const log = logObservations(logger);
    if (process.argv.includes('--leave')) return await leaveGroup(settings, database.url, log);
    if (process.argv.includes('--forget')) {
      const wasThere = await forgetIngest(settings, database.url);
      return logger.info(
        { details: { ingest: settings.id } },
        wasThere ? 'forgotten' : 'it was not registered',
      );
    }
    let ingest: Ingest | null = null;
    const registry = makeIngestRegistry();
    const count = countObservations(registry, () => ingest?.load ?? null);
    if (place) door = await openMetricsDoor(registry, place);
    if (door) logger.info({ counts: { port: door.port } }, 'counters are read at /metrics');
    ingest = await startIngest({
      ...settings,
      databaseUrl: database.url,
      observe: (observation) => {
        log(observation);
        count(observation);
      },
    });
    await told;
    await ingest.stop();
  } finally {
    await door?.close();
    await database.stop();
  }
}
