import { readConnections, unregisterIngest } from '../db/ingests.ts';
import { openDatabase, type Database } from '../db/pool.ts';
import type { Observe } from './observation.ts';
import type { IngestSettings } from './settings.ts';
import { connectionName, startIngest } from './start.ts';

/**
 * Scaling down on purpose: the ingest of this id, which must not run any more, takes what its session at the broker still
 * holds, ends the session, and nobody waits for it from then on.
 */
export async function leaveGroup(
  settings: IngestSettings,
  databaseUrl: string,
  observe: Observe,
): Promise<void> {
  const { id, broker } = settings;
  if (broker.kind !== 'external' || broker.group === null)
    throw new Error('Only a member of a group can leave it: set MQTT_URL and INGEST_GROUP as it had them.');
  await withDatabase(databaseUrl, async (database) => {
    if ((await readConnections(database, connectionName(id))) > 0)
      throw new Error(`The ingest “${id}” still runs: stop it first.`);
  });
  const caughtUp = new Caught(observe);
  const ingest = await startIngest({ ...settings, databaseUrl, observe: caughtUp.observe });
  await caughtUp.up;
  await ingest.leave();
}

/**
 * The same where its broker is gone for good: whatever its session held is given up. Answers whether it was registered.
 */
export async function forgetIngest({ id }: IngestSettings, databaseUrl: string): Promise<boolean> {
  let wasThere = false;
  await withDatabase(databaseUrl, async (database) => {
    if ((await readConnections(database, connectionName(id))) > 0)
      throw new Error(`The ingest “${id}” still runs: stop it first.`);
    wasThere = await unregisterIngest(database, id);
  });
  return wasThere;
}

async function withDatabase(url: string, work: (database: Database) => Promise<void>): Promise<void> {
  const database = openDatabase({
    url,
    name: 'holdoff-ingest-leaving',
    connections: 1,
    statementTimeoutMs: 30_000,
    connectTimeoutMs: 10_000,
  });
  try {
    await work(database);
  } finally {
    await database.close();
  }
}

/** Waits until everything that waited at the broker has been received. */
class Caught {
  readonly up: Promise<void>;
  readonly observe: Observe;

  constructor(observe: Observe) {
    let told: () => void = () => {};
    this.up = new Promise((up) => (told = up));
    this.observe = (observation) => {
      observe(observation);
      if (observation.kind === 'caught-up') told();
    };
  }
}
