import { provideDatabase, type ProvidedDatabase } from '../db/provide.ts';
import { logObservations } from '../ingest/log.ts';
import { countObservations } from '../ingest/metrics.ts';
import { readIngestSettings } from '../ingest/settings.ts';
import { startIngest, type Ingest } from '../ingest/start.ts';
import { makeRegistry, type Registry } from './http/metrics.ts';
import { buildPage, PAGE_FOLDER } from './build-page.ts';
import { Demonstration } from './demonstration.ts';
import { IngestHealth } from './ingest-health.ts';
import { makeLogger } from './log.ts';
import { runUntilStopped, type Stages } from './run.ts';
import { readSettings, type Settings } from './settings.ts';
import { startSounder } from './sounder/sounder.ts';
import { startServer } from './start-server.ts';
import { VERSION } from './version.ts';

/**
 * `npm start`: everything on this machine. Embedded PostgreSQL unless DATABASE_URL, embedded broker unless MQTT_URL,
 * ingest, server, page, and the simulated school and shelter while no real broker is configured.
 */
const logger = makeLogger('holdoff');

await runUntilStopped(logger, async (stages) => {
  const read = readSettings(process.env);
  if (!read.ok) throw new Error(read.faults.join('\n'));
  await startEverything(read.settings, stages);
});

async function startEverything(settings: Settings, stages: Stages): Promise<void> {
  const page = buildPage(stages.signal);
  page.catch(() => {}); // awaited below, once the database is there
  const database = await startDatabase(settings, stages);
  const registry = makeRegistry();
  const health = new IngestHealth();
  const ingest = await startIngesting(settings, database, stages, registry, health);
  const built = await page;
  logger.info(built === 'built' ? 'The page is built.' : 'The page is built already.');
  const demonstration = new Demonstration({ folder: settings.dataFolder, say: (line) => logger.info(line) });
  const server = await startServer({
    databaseUrl: database.url,
    databaseKind: database.embedded ? 'embedded' : 'external',
    host: settings.host,
    port: settings.port,
    token: settings.token,
    provider: settings.provider,
    pageFolder: PAGE_FOLDER,
    parts: () => health.parts(),
    broker: settings.broker,
    logger,
    registry,
    notify: settings.notify,
    record: settings.record,
    telemetryRoot: settings.mqttRoot,
    watcher: settings.watcher && { settings: settings.watcher, folder: settings.dataFolder },
    sounderRoot: settings.sounder?.root ?? null,
    version: VERSION,
    demonstration,
  });
  stages.started('server', () => server.stop());
  if (settings.sounder !== null) {
    const brokerUrl = settings.mqttUrl ?? ingest.ownUrl!;
    const failed = (error: unknown) => logger.error({ err: error }, 'a stack light couldn’t be told');
    const sounder = startSounder({ ...settings.sounder, database: server.database, brokerUrl, failed });
    stages.started('sounder', () => sounder.stop());
  }
  logger.info(`Holdoff is at ${server.url}`);
  stages.started('demonstration', () => demonstration.stop());
  if (settings.demo && ingest.ownUrl !== null)
    await demonstration.start({ brokerUrl: ingest.ownUrl, database: server.database });
}

async function startDatabase(settings: Settings, stages: Stages): Promise<ProvidedDatabase> {
  const where = settings.databaseUrl === null ? `embedded, in ${settings.dataFolder}` : 'by DATABASE_URL';
  logger.info(`The database starts (${where}) …`);
  const database = await provideDatabase({
    url: settings.databaseUrl ?? undefined,
    dataFolder: settings.dataFolder,
  });
  stages.started('database', () => database.stop());
  logger.info({ details: database.storage }, 'The database is ready.');
  return database;
}

async function startIngesting(
  settings: Settings,
  database: ProvidedDatabase,
  stages: Stages,
  registry: Registry,
  health: IngestHealth,
): Promise<Ingest> {
  let running: Ingest | null = null;
  const count = countObservations(registry, () => running?.load ?? null);
  const log = logObservations(logger);
  const ingest = await startIngest({
    ...readIngestSettings(process.env, settings.dataFolder),
    databaseUrl: database.url,
    observe: (observation) => {
      health.note(observation);
      count(observation);
      log(observation);
    },
  });
  running = ingest;
  stages.started('ingest', () => ingest.stop());
  health.isEmbedded = ingest.port !== null;
  const broker = ingest.port === null ? 'at MQTT_URL' : `embedded, on port ${ingest.port}${withTls(ingest)}`;
  logger.info(`Ingest listens (broker ${broker}).`);
  return ingest;
}

/** A declaration: the start above runs before a constant here would be there. */
function withTls({ tlsPort }: Ingest): string {
  return tlsPort === null ? '' : `, with TLS on ${tlsPort}`;
}
