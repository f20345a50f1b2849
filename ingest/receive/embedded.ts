import type { Socket } from 'node:net';
import {
  Aedes,
  type AedesOptions,
  type AuthenticateError,
  type AuthorizePublishHandler,
  type Client,
  type PublishPacket,
} from 'aedes';
import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import type { Database } from '../../db/pool.ts';
import { momentOf } from '../clock.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Message } from '../message.ts';
import type { Observe } from '../observation.ts';
import type { SparkplugHost } from '../sparkplug/host.ts';
import { saysOffline, statePayload } from '../sparkplug/state.ts';
import { isSparkplug, stateTopic } from '../sparkplug/topic.ts';
import { Watch } from '../watch.ts';
import { OWN_USER } from './admission.ts';
import { openDoor, type Door } from './door.ts';
import { openBrokerStore, type BrokerStore } from './embedded-store.ts';
import { Guard } from './guard.ts';
import { RefusalBook } from './refusal-book.ts';
import type { Source } from './source.ts';
import type { TlsPlace } from './tls-place.ts';

/**
 * The embedded broker (MQTT 3.1.1): without TLS on the loopback address alone, with TLS wherever it is told to (door.ts).
 * Who may connect, and publish what, is the guard's (guard.ts).
 *
 * aedes asks `authorizePublish` before it acknowledges a publish. We hold that answer until the commit, so the gateway's
 * own PUBACK says that its samples are on disk. Later hooks come after the PUBACK and would be too late. aedes reads a
 * connection on only when every packet of the last read has been answered: that bounds what one client has in flight, and
 * the number of clients is bounded here.
 */
export interface EmbeddedOptions {
  readonly database: Database;
  /** a loopback address */
  readonly host: string;
  /** 0: any free one */
  readonly port: number;
  /** null: no door with TLS */
  readonly tls: TlsPlace | null;
  /** on the loopback port whoever gives no user is let in, and may everything */
  readonly anonymous: boolean;
  /** the first words of our topics: a gateway's own lie below them */
  readonly root: string;
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
  const book = new RefusalBook(options);
  const guard = new Guard({ ...options, book });
  const broker = await Aedes.createBroker({
    ...hooksOf(guard),
    persistence: store.persistence,
    authorizePublish: guarded(guard, options, holdUntilCommitted(options, intake)),
    preConnect: (client, _packet, answer) => admit(options, broker, client, answer),
  });
  tellOfClients(broker, observe);
  const closeAll = async (door?: Door) => {
    await guard.stop();
    await door?.close();
    await closeBroker(broker, store);
    await book.stop();
  };
  const handle = (socket: Socket) => void broker.handle(socket);
  const door = await openDoor({ ...options, book, handle }).catch(async (error: unknown) => {
    await closeAll();
    throw error;
  });
  observe({ kind: 'listening', port: door.port, tlsPort: door.tlsPort });
  const watch = new Watch(committer, options.ingest);
  watch.begin(momentOf(now));
  const host = new HostAtHome(broker, options);
  intake.heard = (topic, payload) => host.heard(topic, payload);
  const ticking = setInterval(() => void watch.mark(momentOf(now)), options.markSeconds * 1_000);
  const stop = async () => {
    clearInterval(ticking);
    intake.open = false; // what comes now is never answered, so its gateway sends it again
    await watch.mark(momentOf(now));
    watch.end();
    await host.stop();
    await committer.stop();
    await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
    await closeAll(door);
  };
  return {
    port: door.port,
    tlsPort: door.tlsPort,
    own: { username: OWN_USER, password: guard.admission.ownPassword },
    stop,
    leave: stop,
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

/** The broker asks the guard at its door, at each subscription, and before it hands a message on. */
const hooksOf = (
  guard: Guard,
): Pick<AedesOptions, 'authenticate' | 'authorizeSubscribe' | 'authorizeForward'> => ({
  authenticate: (client, username, password, answer) => {
    const given = { username: username || null, password: password ?? null };
    void guard.letIn(client, given).then((no) => {
      const error = no && Object.assign(new Error(no.says), { returnCode: no.returnCode });
      answer(error as AuthenticateError | null, no === null);
    });
  },
  authorizeSubscribe: (client, subscription, answer) => {
    if (guard.maySubscribe(client, subscription.topic)) return answer(null, subscription);
    guard.refuse(client, 'subscribe-elsewhere', subscription.topic);
    answer(null, null); // SUBACK says 0x80: failure
  },
  authorizeForward: (client, packet) => (guard.mayHear(client, packet.topic) ? packet : null),
});

/**
 * What a client may not publish goes nowhere, and is acknowledged ([MQTT-3.3.5-2]). Before it is refused the configuration is
 * looked at anew, by way of a batch: a topic may have been given to the gateway a moment ago.
 */
function guarded(
  guard: Guard,
  { committer, now }: EmbeddedOptions,
  take: AuthorizePublishHandler,
): AuthorizePublishHandler {
  return (client, packet, answer) => {
    const { topic } = packet;
    if (client === null || topic.startsWith('$') || guard.mayPublish(client, topic))
      return take(client, packet, answer);
    const judge = () => {
      if (guard.mayPublish(client, topic)) return take(client, packet, answer);
      guard.refuse(client, 'publish-elsewhere', topic);
      Object.assign(packet, { topic: NOWHERE, payload: Buffer.alloc(0), retain: false });
      answer();
    };
    const nothing = { topic: NOWHERE, payload: Buffer.alloc(0), receivedAt: now(), waited: null };
    committer.add({ ...nothing, committed: onlyOnce(judge) });
  };
}

/** Nobody may publish or, but on this machine, listen there. */
const NOWHERE = '$holdoff/refused';

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
