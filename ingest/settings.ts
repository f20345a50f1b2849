import { join } from 'node:path';
import type { TlsPlace } from './receive/tls-place.ts';
import type { EmbeddedBrokerPlace, ExternalBroker, IngestOptions } from './start.ts';

/** What ingest reads from the environment (contract section 7), every default in one place. */
export type IngestSettings = Pick<
  IngestOptions,
  'broker' | 'id' | 'root' | 'markSeconds' | 'waveformDays' | 'sparkplug'
>;

const DEFAULTS = {
  root: 'holdoff',
  id: 'holdoff-ingest-1',
  markSeconds: 2,
  waveformDays: 90,
  hostId: 'holdoff',
  reorderSeconds: 2,
  host: '127.0.0.1',
  port: 1883,
  tlsPort: 8883,
  /** what a Mosquitto with our settings has in flight, five times over */
  highWater: 10_000,
  highWaterBytes: 64 * 1024 * 1024,
  mostClients: 1_000,
};

const TOPIC_ROOT = /^[^/#+$][^#+]*$/;

export function readIngestSettings(environment: NodeJS.ProcessEnv, dataFolder: string): IngestSettings {
  const root = environment['MQTT_ROOT'] ?? DEFAULTS.root;
  if (!TOPIC_ROOT.test(root) || root.endsWith('/'))
    throw new Error(`MQTT_ROOT is “${root}”: give the first words of a topic, without wildcards.`);
  return {
    root,
    id: environment['INGEST_ID'] ?? DEFAULTS.id,
    markSeconds: numberOf(environment, 'WATCH_MARK_SECONDS', {
      least: 0.1,
      most: 10,
      usual: DEFAULTS.markSeconds,
    }),
    waveformDays: numberOf(environment, 'WAVEFORM_DAYS', {
      least: 1,
      most: 3_650,
      usual: DEFAULTS.waveformDays,
    }),
    sparkplug: {
      hostId: hostIdOf(environment),
      reorderSeconds: numberOf(environment, 'SPARKPLUG_REORDER_SECONDS', {
        least: 0.05,
        most: 60,
        usual: DEFAULTS.reorderSeconds,
      }),
    },
    broker: brokerOf(environment, dataFolder),
  };
}

/** Where an ingest by itself is asked for its counters; null: nowhere. */
export function readMetricsPlace(
  environment: NodeJS.ProcessEnv,
): { readonly host: string; readonly port: number } | null {
  if (!environment['METRICS_PORT']) return null;
  const port = numberOf(environment, 'METRICS_PORT', { least: 0, most: 65_535, usual: 0 });
  return { host: environment['METRICS_HOST'] || '127.0.0.1', port };
}

function hostIdOf(environment: NodeJS.ProcessEnv): string {
  const id = environment['SPARKPLUG_HOST'] ?? DEFAULTS.hostId;
  if (id !== '' && !/[/+#]/.test(id)) return id;
  throw new Error(`SPARKPLUG_HOST is “${id}”: give one level of a topic, without “/”, “+” and “#”.`);
}

/** The name in a shared subscription (MQTT 5 section 4.8.2): one level of a topic. */
function groupOf(given: string | undefined): string | null {
  if (given === undefined || given === '') return null;
  if (!/[/+#]/.test(given)) return given;
  throw new Error(`INGEST_GROUP is “${given}”: give one level of a topic, without “/”, “+” and “#”.`);
}

function brokerOf(environment: NodeJS.ProcessEnv, dataFolder: string): ExternalBroker | EmbeddedBrokerPlace {
  const url = environment['MQTT_URL'];
  const { highWater, highWaterBytes } = DEFAULTS;
  const group = groupOf(environment['INGEST_GROUP']);
  const logFile = environment['MQTT_BROKER_LOG'] || null;
  if (url) return { kind: 'external', url, highWater, highWaterBytes, group, logFile };
  if (group !== null)
    throw new Error(
      'INGEST_GROUP is for several ingests at one broker: set MQTT_URL to it, or leave it out.',
    );
  return {
    kind: 'embedded',
    host: '127.0.0.1',
    port: portOf(environment, 'MQTT_PORT', DEFAULTS.port),
    tls: tlsOf(environment),
    anonymous: mayBeAnonymous(environment),
    folder: join(dataFolder, 'broker'),
    mostClients: DEFAULTS.mostClients,
  };
}

/**
 * The door with TLS is there where its certificate is given. Beyond loopback the embedded broker listens with TLS or not at
 * all: passwords and what the gateways see would go over the network for everybody to read and to change.
 */
function tlsOf(environment: NodeJS.ProcessEnv): TlsPlace | null {
  const host = environment['MQTT_HOST'] || DEFAULTS.host;
  const certFile = environment['MQTT_TLS_CERT'] || null;
  const keyFile = environment['MQTT_TLS_KEY'] || null;
  if (certFile !== null && keyFile !== null)
    return { host, port: portOf(environment, 'MQTT_TLS_PORT', DEFAULTS.tlsPort), certFile, keyFile };
  if (certFile !== null || keyFile !== null)
    throw new Error('For TLS give both: MQTT_TLS_CERT (the certificate) and MQTT_TLS_KEY (its key), in PEM.');
  if (isLoopback(host)) return null;
  throw new Error(
    `MQTT_HOST=${host} would let other machines reach the broker without TLS: give MQTT_TLS_CERT and MQTT_TLS_KEY ` +
      '(a certificate for the name that the gateways use, and its key, in PEM), or leave MQTT_HOST at 127.0.0.1.',
  );
}

const isLoopback = (host: string): boolean => /^(localhost|::1|127\.\d+\.\d+\.\d+)$/.test(host);

function mayBeAnonymous(environment: NodeJS.ProcessEnv): boolean {
  const given = environment['MQTT_ANONYMOUS'] || '1';
  if (given === '0' || given === '1') return given === '1';
  throw new Error(`MQTT_ANONYMOUS is “${given}”: give 1 (the loopback port takes whoever comes) or 0.`);
}

const portOf = (environment: NodeJS.ProcessEnv, name: string, usual: number): number =>
  numberOf(environment, name, { least: 0, most: 65_535, usual });

function numberOf(
  environment: NodeJS.ProcessEnv,
  name: string,
  { least, most, usual }: { readonly least: number; readonly most: number; readonly usual: number },
): number {
  const given = environment[name];
  if (given === undefined || given === '') return usual;
  const value = Number(given);
  if (value >= least && value <= most) return value;
  throw new Error(`${name} is “${given}”: give a number from ${least} to ${most}.`);
}
