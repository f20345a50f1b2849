import { openDatabase, type Database } from '../db/pool.ts';
import type { Catalogue } from './catalogue.ts';
import { now } from './clock.ts';
import { Committer, type CommitLoad } from './committer.ts';
import { Listening } from './listening.ts';
import type { Observe } from './observation.ts';
import { startEmbeddedBroker } from './receive/embedded.ts';
import { receiveFromBroker } from './receive/external.ts';
import { HostLine } from './receive/host-line.ts';
import type { Source } from './receive/source.ts';
import { SparkplugHost } from './sparkplug/host.ts';

/** Everything that ingest needs to be told; environment and defaults are settings.ts's. */
export interface IngestOptions {
  readonly databaseUrl: string;
  readonly broker: ExternalBroker | EmbeddedBrokerPlace;
  /** names this ingest: its watch marks, its session at an external broker. Fixed: a replacement takes the same. */
  readonly id: string;
  /** the first words of the topics that are ours */
  readonly root: string;
  readonly markSeconds: number;
  /** how long waveforms are kept */
  readonly waveformDays: number;
  readonly sparkplug: {
    /** names this host application to edge nodes: `spBv1.0/STATE/<host id>` */
    readonly hostId: string;
    /** how long a message that came early waits for the one before it */
    readonly reorderSeconds: number;
  };
  readonly observe: Observe;
}

export interface ExternalBroker {
  readonly kind: 'external';
  readonly url: string;
  /** messages received and not yet committed, at which the broker is held back */
  readonly highWater: number;
}

export interface EmbeddedBrokerPlace {
  readonly kind: 'embedded';
  readonly host: string;
  readonly port: number;
  readonly folder: string;
  readonly mostClients: number;
}

export interface Ingest {
  /** of the embedded broker; null: there is none */
  readonly port: number | null;
  /** what it has in hand now, and the connections of its pool */
  readonly load: IngestLoad;
  /** Takes in nothing more; what was received is committed, acknowledged and marked before this comes back. */
  stop(): Promise<void>;
}

export interface IngestLoad extends CommitLoad {
  /** messages in flight at which the broker is held back; null: its bound is another (embedded: bytes a client) */
  readonly mostMessages: number | null;
  readonly database: Database['load'];
}

/** One connection commits; the other reads the configuration. */
const CONNECTIONS = 2;
/** A commit of the largest batch takes about a second. */
const STATEMENT_TIMEOUT_MS = 30_000;
const CONNECT_TIMEOUT_MS = 10_000;

/** Receives, decodes, commits. The schema must be up to date (db/migrate.ts). */
export async function startIngest(options: IngestOptions): Promise<Ingest> {
  const { observe, root, id, markSeconds, waveformDays, broker, sparkplug } = options;
  const database = openDatabase({
    url: options.databaseUrl,
    name: `holdoff-ingest-${id}`,
    connections: CONNECTIONS,
    statementTimeoutMs: STATEMENT_TIMEOUT_MS,
    connectTimeoutMs: CONNECT_TIMEOUT_MS,
    observe: (observation) =>
      observe(
        observation.kind === 'retried'
          ? { kind: 'database-retried', reason: observation.reason, attempt: observation.attempt }
          : { kind: 'database-connection-lost', error: observation.error },
      ),
  });
  const listening = new Listening();
  const catalogueRead = (catalogue: Catalogue) => (listening.catalogue = catalogue);
  const committer = new Committer({ database, root, waveformDays, now, observe, catalogueRead });
  const { hostId, reorderSeconds } = sparkplug;
  const sparkplugHost = new SparkplugHost({ reorderSeconds, committer, listening, now, observe });
  const common = { root, markSeconds, committer, listening, sparkplugHost, hostId, now, observe };
  const source = await openSource().catch(async (error: unknown) => {
    await committer.stop();
    await database.close();
    throw error;
  });
  async function openSource(): Promise<Source> {
    if (broker.kind === 'embedded') return startEmbeddedBroker({ ...common, ...broker, ingest: id });
    const { url, highWater } = broker;
    const hostLine = new HostLine({ ...common, url, highWater, clientId: `${id}-sparkplug` });
    return receiveFromBroker({ ...common, url, highWater, clientId: id, beside: hostLine });
  }
  return {
    port: source.port,
    get load() {
      const mostMessages = broker.kind === 'external' ? broker.highWater : null;
      return { ...committer.load, mostMessages, database: database.load };
    },
    stop: async () => {
      await source.stop();
      await database.close();
      observe({ kind: 'stopped' });
    },
  };
}
