import { once } from 'node:events';
import { createServer, type AddressInfo, type Socket } from 'node:net';
import { Aedes, type AuthorizePublishHandler, type Client, type PublishPacket } from 'aedes';
import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Message } from '../message.ts';
import type { Observe } from '../observation.ts';
import type { SparkplugHost } from '../sparkplug/host.ts';
import { saysOffline, statePayload } from '../sparkplug/state.ts';
import { isSparkplug, stateTopic } from '../sparkplug/topic.ts';
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
  readonly listening: Listening;
  /** the host application of Sparkplug, which lives and dies with this broker, and its name in STATE */
  readonly sparkplugHost: SparkplugHost;
  readonly hostId: string;
  readonly now: () => Instant;
  readonly observe: Observe;
}

interface Intake {
  open: boolean;
  heard: (topic: string, payload: Uint8Array | string) => void;
}

export async function startEmbeddedBroker(options: EmbeddedOptions): Promise<Source> {
  const { committer, now, observe } = options;
  const intake: Intake = { open: true, heard: () => {} };
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
  const host = new HostAtHome(broker, options);
  intake.heard = (topic, payload) => host.heard(topic, payload);
  const ticking = setInterval(() => void watch.mark(now()), options.markSeconds * 1_000);
  const stop = async () => {
    clearInterval(ticking);
    intake.open = false; // what comes now is never answered, so its gateway sends it again
    await watch.mark(now());
    watch.end();
    await host.stop();
    await committer.stop();
    await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
    await door.close();
    await closeBroker(broker, store);
  };
  return { port: door.port, stop, leave: stop };
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
 * The host application at its own broker: it says that it is there while points name metrics. Until this broker starts again
 * nobody can ask it, so no will is needed: an orderly end says so before, and every start anew.
 */
class HostAtHome {
  readonly #broker: Aedes;
  readonly #options: EmbeddedOptions;
  readonly #state: string;
  #isOnline = false;

  constructor(broker: Aedes, options: EmbeddedOptions) {
    this.#broker = broker;
    this.#options = options;
    this.#state = stateTopic(options.hostId);
    options.sparkplugHost.connected(
      (topic, payload) => void this.#publish({ topic, payload, qos: 0, retain: false }),
    );
    options.listening.follow(() => this.#follow());
  }

  async stop(): Promise<void> {
    this.#options.sparkplugHost.lost();
    if (this.#isOnline) await this.#say(false);
  }

  /** Others may have said that we are gone, such as an older installation's will. */
  heard(topic: string, payload: Uint8Array | string): void {
    if (this.#isOnline && topic === this.#state && saysOffline(Buffer.from(payload)))
      setImmediate(() => void this.#say(true));
  }

  #follow(): void {
    const isWanted = this.#options.sparkplugHost.filters.length > 0;
    if (isWanted !== this.#isOnline) void this.#say(isWanted);
    this.#options.sparkplugHost.begin();
  }

  #say(online: boolean): Promise<void> {
    const { now, observe } = this.#options;
    this.#isOnline = online;
    observe({ kind: 'host-state', online });
    const payload = statePayload(online, Math.round(now() / MILLISECOND));
    return this.#publish({ topic: this.#state, payload, qos: 1, retain: true });
  }

  #publish(packet: Pick<PublishPacket, 'topic' | 'payload' | 'qos' | 'retain'>): Promise<void> {
    return new Promise((done) =>
      this.#broker.publish({ cmd: 'publish', dup: false, ...packet }, () => done()),
    );
  }
}

/**
 * Every message is answered when its batch is committed: only then is it known under which configuration it was decoded,
 * and whether a point listens to its topic. Those that none listens to add nothing to the batch. Of Sparkplug's topics those
 * of edge nodes that points name go through the host application; the others are between others.
 */
function holdUntilCommitted(
  { committer, listening, sparkplugHost, now }: EmbeddedOptions,
  intake: Readonly<Intake>,
): AuthorizePublishHandler {
  const take: AuthorizePublishHandler = (_client, { topic, payload, dup, qos }, answer) => {
    const from = sparkplugHost.topicOf(topic);
    if (isSparkplug(topic) && !from) return answer();
    if (!intake.open) return;
    const answerOnce = onlyOnce(() => answer());
    const message: Message = {
      topic,
      payload: typeof payload === 'string' ? Buffer.from(payload) : payload,
      receivedAt: now(),
      waited: dup ? 'duplicate' : null, // the RETAIN bit of a live publish means nothing (contract 1.4)
      committed: answerOnce,
    };
    if (!from) committer.add(message);
    // held until its predecessor comes, perhaps on the same connection: QoS 0 promises nothing, so that one may be read
    else if (!sparkplugHost.take(from, message) && qos === 0) answerOnce();
  };
  return (client, packet, answer) => {
    const { topic, payload } = packet;
    if (topic.startsWith('$')) return answer(new Error('topics that begin with $ are the broker’s own'));
    intake.heard(topic, payload);
    // which edge nodes are ours is known once the configuration has been read
    if (listening.isKnown || !isSparkplug(topic)) return take(client, packet, answer);
    void listening.known.then(() => take(client, packet, answer));
  };
}

function onlyOnce(act: () => void): () => void {
  let isDone = false;
  return () => {
    if (!isDone) act();
    isDone = true;
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
