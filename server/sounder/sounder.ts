import type { Database } from '../../db/pool.ts';
import { readAlarms } from '../../db/read-alarms.ts';
import { readDocuments } from '../../db/read-history.ts';
import { readSiteIds } from '../../db/site-history.ts';
import { stackLight } from '../../shared/alarms/stack-light.ts';
import { aliveTopic, lightTopic, meetsSounder } from '../../shared/wire/sounder-topics.ts';
import { connect, type MqttClient } from '../mqtt.ts';

/**
 * Tells local stack lights and sounders what stands, site by site, as retained messages at QoS 1 on either broker: opted in
 * by SOUNDER_ROOT. Looked at every two seconds, said when it changes and again after every connection; what hasn't been
 * acknowledged is said again.
 */
export interface SounderOptions {
  readonly database: Database;
  readonly brokerUrl: string;
  readonly root: string;
  /** null: every site */
  readonly sites: readonly string[] | null;
  readonly failed: (error: unknown) => void;
}

export interface Sounder {
  stop(): Promise<void>;
}

const LOOK_EVERY_MS = 2_000;
const ALARMS_BOUND = 2_000;

export function startSounder(options: SounderOptions): Sounder {
  const { root, failed } = options;
  const alive = aliveTopic(root);
  const client = connect(options.brokerUrl, {
    clientId: `${root.replaceAll('/', '-')}-${process.pid}`,
    clean: true,
    queueQoSZero: false,
    reconnectPeriod: 1_000,
    will: { topic: alive, payload: Buffer.from('0'), qos: 1, retain: true },
  });
  const known: Known = { said: new Map(), may: new Map() };
  let looking: Promise<void> | null = null;
  const look = () => {
    if (!client.connected || looking) return;
    looking = tell(options, client, known)
      .catch(failed)
      .finally(() => (looking = null));
  };
  client.on('connect', () => {
    known.said.clear();
    client.publish(alive, '1', { qos: 1, retain: true });
    look();
  });
  client.on('error', failed);
  const timer = setInterval(look, LOOK_EVERY_MS);
  return {
    async stop() {
      clearInterval(timer);
      await looking;
      if (client.connected) await client.publishAsync(alive, '0', { qos: 1, retain: true });
      await client.endAsync(true);
    },
  };
}

interface Known {
  /** what the broker has acknowledged on this connection, by site */
  readonly said: Map<string, string>;
  /** does nothing of a site listen where its light is told */
  readonly may: Map<string, boolean>;
}

async function tell(options: SounderOptions, client: MqttClient, { said, may }: Known): Promise<void> {
  const sites = await sitesOf(options, may);
  const kept = await readAlarms(options.database, {
    ...{ sites, states: null, from: null, to: null, after: null, limit: ALARMS_BOUND },
  });
  const alarms = kept.map(({ alarm }) => alarm);
  for (const site of sites) {
    const light = JSON.stringify(stackLight(alarms.filter((one) => one.site === site)));
    if (said.get(site) === light) continue;
    await client.publishAsync(lightTopic(options.root, site), light, { qos: 1, retain: true });
    said.set(site, light);
  }
  for (const gone of [...said.keys()].filter((site) => !sites.includes(site))) {
    // an empty retained message takes the last one away (MQTT 3.1.1 section 3.3.1.3)
    await client.publishAsync(lightTopic(options.root, gone), '', { qos: 1, retain: true });
    said.delete(gone);
  }
}

/** Those that are told of: a site some point of which listens under our root is left out, and that is said once. */
async function sitesOf(
  { database, root, sites, failed }: SounderOptions,
  may: Known['may'],
): Promise<string[]> {
  const there = (await readSiteIds(database)).filter((site) => sites === null || sites.includes(site));
  for (const site of there.filter((one) => !may.has(one))) {
    const documents = await readDocuments(database, site);
    const met = documents.map(({ document }) => meetsSounder(root, document)).find((topic) => topic !== null);
    may.set(site, met === undefined);
    if (met !== undefined)
      failed(new Error(`${site}: a point listens to ${met}, under SOUNDER_ROOT. Its light isn’t told.`));
  }
  return there.filter((site) => may.get(site));
}
