import { once } from 'node:events';
import { createServer, type AddressInfo, type Server } from 'node:net';
import { Aedes, type AuthorizePublishHandler, type Client } from 'aedes';
import type { Instant } from '../../shared/base/instant.ts';
import type { Committer } from '../committer.ts';
import type { Observe } from '../observation.ts';
import { Watch } from '../watch.ts';
import { openBrokerStore } from './embedded-store.ts';
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
  readonly root: string;
  readonly ingest: string;
  readonly markSeconds: number;
  readonly mostClients: number;
  readonly committer: Committer;
  readonly now: () => Instant;
  readonly observe: Observe;
}

export async function startEmbeddedBroker(options: EmbeddedOptions): Promise<Source> {
  const { committer, now, observe } = options;
  const store = await openBrokerStore(options.folder);
  const broker = await Aedes.createBroker({
    persistence: store.persistence,
    authorizePublish: holdUntilCommitted(options),
    preConnect: (client, _packet, answer) => admit(options, broker, client, answer),
  });
  broker.on('client', ({ id }) => observe({ kind: 'client-connected', client: id }));
  broker.on('clientDisconnect', ({ id }) => observe({ kind: 'client-gone', client: id }));
  broker.on('clientError', ({ id }, error) =>
    observe({ kind: 'client-refused', client: id, why: error.message }),
  );
  const server = createServer((socket) => void broker.handle(socket));
  const port = await listen(server, options);
  observe({ kind: 'listening', port });
  const watch = new Watch(committer, options.ingest);
  watch.begin(now());
  const ticking = setInterval(() => void watch.mark(now()), options.markSeconds * 1_000);
  return {
    port,
    stop: async () => {
      clearInterval(ticking);
      const closed = once(server, 'close');
      server.close();
      await watch.mark(now());
      watch.end();
      await committer.stop();
      await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
      await new Promise<void>((done) => broker.close(done));
      await closed;
      await store.close();
    },
  };
}

/** Everything below the root is answered when it is committed; what others say to each other passes at once. */
function holdUntilCommitted({ root, committer, now }: EmbeddedOptions): AuthorizePublishHandler {
  return (_client, { topic, payload, dup }, answer) => {
    if (topic.startsWith('$')) return answer(new Error('topics that begin with $ are the broker’s own'));
    if (!topic.startsWith(`${root}/`)) return answer();
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
  const admitted = broker.connectedClients < mostClients;
  if (!admitted) observe({ kind: 'client-refused', client: client.id, why: 'too many clients' });
  answer(null, admitted);
}

async function listen(server: Server, { host, port }: EmbeddedOptions): Promise<number> {
  server.listen(port, host);
  await once(server, 'listening');
  return (server.address() as AddressInfo).port;
}
