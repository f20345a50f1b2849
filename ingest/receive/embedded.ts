import { once } from 'node:events';
import { createServer, type AddressInfo, type Socket } from 'node:net';
import { Aedes, type AuthorizePublishHandler, type Client } from 'aedes';
import type { Instant } from '../../shared/base/instant.ts';
import type { Committer } from '../committer.ts';
import type { Observe } from '../observation.ts';
import { Watch } from '../watch.ts';
import { openBrokerStore, type BrokerStore } from './embedded-store.ts';
import { boundPackets } from './packet-bound.ts';
import type { Source } from './source.ts';

/**
 * The embedded broker (MQTT 3.1.1), on the loopback address, open to anyone on this machine.
 *
 * aedes asks `authorizePublish` before it acknowledges a publish. We hold that answer until the commit, so the gateway's
 * own PUBACK says that its samples are on disk. Later hooks come after the PUBACK and would be too late. aedes reads a
 * connection on only when every packet of the last read has been answered: that bounds what one client has in flight, and
 * the number of clients is bounded here.
 */
export interface EmbeddedOptions {
  /** a loopback address: there is no authentication */
  readonly host: string;
  /** 0: any free one */
  readonly port: number;
  /** where retained messages and the sessions of other subscribers are kept */
  readonly folder: string;
  readonly ingest: string;
  readonly markSeconds: number;
  readonly mostClients: number;
  readonly committer: Committer;
  readonly now: () => Instant;
  readonly observe: Observe;
}

export async function startEmbeddedBroker(options: EmbeddedOptions): Promise<Source> {
  const { committer, now, observe } = options;
  const intake = { open: true };
  const store = await openBrokerStore(options.folder);
  const broker = await Aedes.createBroker({
    persistence: store.persistence,
    authorizePublish: holdUntilCommitted(options, intake),
    preConnect: (client, _packet, answer) => admit(options, broker, client, answer),
  });
  tellOfClients(broker, observe);
  const door = await openDoor(broker, options).catch(async (error: unknown) => {
    await closeBroker(broker, store);
    throw error;
  });
  observe({ kind: 'listening', port: door.port });
  const watch = new Watch(committer, options.ingest);
  watch.begin(now());
  const ticking = setInterval(() => void watch.mark(now()), options.markSeconds * 1_000);
  return {
    port: door.port,
    stop: async () => {
      clearInterval(ticking);
      intake.open = false; // what comes now is never answered, so its gateway sends it again
      await watch.mark(now());
      watch.end();
      await committer.stop();
      await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
      await door.close();
      await closeBroker(broker, store);
    },
  };
}

function tellOfClients(broker: Aedes, observe: Observe): void {
  broker.on('client', ({ id }) => observe({ kind: 'client-connected', client: id }));
  broker.on('clientDisconnect', ({ id }) => observe({ kind: 'client-gone', client: id }));
  broker.on('clientError', ({ id }, error) =>
    observe({ kind: 'client-refused', client: id, why: error.message }),
  );
}

async function closeBroker(broker: Aedes, store: BrokerStore): Promise<void> {
  await new Promise<void>((done) => broker.close(done));
  await store.close();
}

interface Door {
  readonly port: number;
  /** ends every connection */
  close(): Promise<void>;
}

async function openDoor(broker: Aedes, { host, port, observe }: EmbeddedOptions): Promise<Door> {
  const sockets = new Set<Socket>();
  const server = createServer((socket) => {
    sockets.add(socket);
    socket.once('close', () => sockets.delete(socket));
    boundPackets(socket, () =>
      observe({ kind: 'client-refused', client: String(socket.remotePort), why: 'packet too large' }),
    );
    broker.handle(socket);
  });
  server.listen(port, host);
  try {
    await once(server, 'listening');
  } catch (cause) {
    if ((cause as NodeJS.ErrnoException).code !== 'EADDRINUSE') throw cause;
    const hint = 'another broker listens there. Set another MQTT_PORT, or MQTT_URL to use that broker.';
    throw new Error(`MQTT_PORT ${port} is taken: ${hint}`, { cause });
  }
  return {
    port: (server.address() as AddressInfo).port,
    close: async () => {
      const closed = once(server, 'close');
      server.close();
      for (const socket of sockets) socket.end();
      const patience = setTimeout(() => sockets.forEach((socket) => socket.destroy()), GOODBYE_MS);
      await closed;
      clearTimeout(patience);
    },
  };
}

/** How long a client may take to close its side. */
const GOODBYE_MS = 1_000;

/**
 * Every message is answered when its batch is committed: only then is it known under which configuration it was decoded,
 * and whether a point listens to its topic. Those that none listens to add nothing to the batch.
 */
function holdUntilCommitted(
  { committer, now }: EmbeddedOptions,
  intake: { readonly open: boolean },
): AuthorizePublishHandler {
  return (_client, { topic, payload, dup }, answer) => {
    if (topic.startsWith('$')) return answer(new Error('topics that begin with $ are the broker’s own'));
    if (!intake.open) return;
    committer.add({
      topic,
      payload: typeof payload === 'string' ? Buffer.from(payload) : payload,
      receivedAt: now(),
      waited: dup ? 'duplicate' : null, // the RETAIN bit of a live publish means nothing (contract 1.4)
      committed: () => answer(),
    });
  };
}

function admit(
  { mostClients, observe }: EmbeddedOptions,
  broker: Aedes,
  client: Client,
  answer: (error: Error | null, admitted: boolean) => void,
): void {
  if (broker.connectedClients < mostClients) return answer(null, true);
  observe({ kind: 'client-refused', client: client.id, why: 'too many clients' });
  answer(new Error('too many clients'), false); // an error ends the connection
}
