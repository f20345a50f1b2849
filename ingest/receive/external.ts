import type { Duplex } from 'node:stream';
import {
  connect,
  type IClientOptions,
  type IPublishPacket,
  type ISubscriptionGrant,
  type MqttClient,
} from 'mqtt';
import { MILLISECOND, type Instant } from '../../shared/base/instant.ts';
import type { Committer } from '../committer.ts';
import type { Listening } from '../listening.ts';
import type { Waited } from '../message.ts';
import type { Observe } from '../observation.ts';
import { isBelow } from '../topic.ts';
import { Watch } from '../watch.ts';
import { InFlight } from './in-flight.ts';
import { Marker } from './marker.ts';
import type { Source } from './source.ts';

/**
 * Receiving from an external broker through mqtt.js, acknowledged after the commit.
 *
 * mqtt.js hands packets over one at a time and acknowledges when `handleMessage` calls back without an error. So we call
 * back at once with an error that marks "not yours to acknowledge", keep the packet's id and the connection it came on,
 * and write the PUBACKs of a batch ourselves after its commit. (That an error skips the acknowledgement is undocumented:
 * mqtt.js is pinned, and the kill tests hold it.)
 *
 * The session is durable: fixed client id, clean false, on MQTT 5 an expiry of 7 days. What isn't acknowledged comes again.
 */
export interface ExternalOptions {
  readonly url: string;
  readonly clientId: string;
  readonly root: string;
  /** messages received and not yet committed, at which the connection is held back */
  readonly highWater: number;
  readonly markSeconds: number;
  readonly committer: Committer;
  readonly listening: Listening;
  readonly now: () => Instant;
  readonly observe: Observe;
}

const SESSION_EXPIRY_SECONDS = 7 * 86_400;
const KEEPALIVE_SECONDS = 60;
/** How long a stop waits for the last marker to come back. */
const LAST_MARK_MS = 3_000;
const NOT_YOURS = new Error('acknowledged by us, after the commit');

export function receiveFromBroker(options: ExternalOptions): Source {
  return new ExternalReceiver(options);
}

class ExternalReceiver implements Source {
  readonly port = null;
  readonly #options: ExternalOptions;
  readonly #marker: Marker;
  readonly #watch: Watch;
  readonly #inFlight: InFlight;
  readonly #ticking: NodeJS.Timeout;
  #client: MqttClient;
  /** topics of sources that points name, besides those of the root */
  #filters: ReadonlySet<string> = new Set();
  #subscribedAt: Instant = 0;
  /** our marker has come back on this connection: values without a time come straight from their publisher */
  #caughtUp = false;
  #lastMark: { readonly sentAt: Instant; readonly marked: () => void } | null = null;

  constructor(options: ExternalOptions) {
    this.#options = options;
    this.#marker = new Marker(options.root, options.clientId);
    this.#watch = new Watch(options.committer, options.clientId);
    this.#inFlight = new InFlight(options.highWater, options.observe);
    this.#client = this.#connect(5);
    options.listening.follow(({ filters }) => this.#listenTo(filters));
    this.#ticking = setInterval(() => this.#tick(), options.markSeconds * 1_000);
  }

  async stop(): Promise<void> {
    clearInterval(this.#ticking);
    if (this.#client.connected && this.#caughtUp) {
      const sentAt = this.#options.now();
      const marked = new Promise<void>((done) => (this.#lastMark = { sentAt, marked: done }));
      this.#sendMarker(this.#client, sentAt);
      await Promise.race([marked, elapsed(LAST_MARK_MS)]);
    }
    // nothing more is taken in: what isn't acknowledged stays with the broker
    this.#client.handleMessage = ({ qos }, done) => done(qos > 0 ? NOT_YOURS : undefined);
    this.#watch.end();
    await this.#options.committer.stop();
    await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
    await Promise.race([this.#client.endAsync(), elapsed(LAST_MARK_MS)]);
    this.#client.end(true);
  }

  #connect(protocolVersion: 4 | 5): MqttClient {
    const { url, observe } = this.#options;
    const client = connect(url, clientOptions(this.#options, protocolVersion));
    client.handleMessage = (packet, done) => this.#receive(packet, done);
    client.on('connect', ({ sessionPresent }) => {
      observe({ kind: 'broker-connected', protocol: protocolVersion, sessionPresent });
      this.#subscribe(client);
    });
    client.on('packetreceive', ({ cmd }) => {
      if (cmd === 'connack') this.#inFlight.connection = client.stream as Duplex;
    });
    client.on('close', () => this.#lost(client));
    client.on('error', (error) => this.#failed(client, error));
    return client;
  }

  #subscribe(client: MqttClient): void {
    const { root, now, observe } = this.#options;
    client.subscribe(atQosOne([`${root}/#`, this.#marker.topic, ...this.#filters]), (error, granted) => {
      if (error) return observe({ kind: 'broker-error', error });
      this.#tellRefused(granted);
      this.#subscribedAt = now();
      this.#watch.begin(this.#subscribedAt);
      this.#sendMarker(client, this.#subscribedAt);
    });
  }

  #tellRefused(granted: readonly ISubscriptionGrant[] = []): void {
    for (const { topic, qos } of granted)
      if (qos >= 128) this.#options.observe({ kind: 'subscription-refused', filter: topic });
  }

  /** The configuration names these topics now. What is subscribed to when we connect isn't asked for twice. */
  #listenTo(filters: ReadonlySet<string>): void {
    const { root, observe } = this.#options;
    const wanted = new Set([...filters].filter((filter) => !isBelow(root, filter)));
    const added = [...wanted].filter((filter) => !this.#filters.has(filter));
    const gone = [...this.#filters].filter((filter) => !wanted.has(filter));
    this.#filters = wanted;
    if (!this.#client.connected) return;
    if (gone.length > 0) this.#client.unsubscribe(gone);
    if (added.length === 0) return;
    this.#client.subscribe(atQosOne(added), (error, granted) => {
      if (error) return observe({ kind: 'broker-error', error });
      this.#tellRefused(granted);
      observe({ kind: 'listening-to', filters: added.length });
    });
  }

  #receive(packet: IPublishPacket, done: (error?: Error) => void): void {
    if (packet.topic === this.#marker.topic) {
      this.#markerCameBack(packet);
      return done(); // mqtt.js acknowledges it: a marker holds no data
    }
    const stream = this.#client.stream as Duplex;
    const packetId = packet.qos > 0 ? (packet.messageId ?? null) : null;
    this.#options.committer.add({
      topic: packet.topic,
      payload: typeof packet.payload === 'string' ? Buffer.from(packet.payload) : packet.payload,
      receivedAt: this.#options.now(),
      waited: this.#waited(packet),
      committed: () => this.#inFlight.commit(stream, packetId),
    });
    this.#inFlight.receive(() => done(packetId === null ? undefined : NOT_YOURS));
  }

  #waited(packet: IPublishPacket): Waited | null {
    if (packet.dup) return 'duplicate';
    if (packet.retain) return 'retained';
    return this.#caughtUp ? null : 'before-marker';
  }

  /** One that is lost is followed by the next. */
  #sendMarker(client: MqttClient, at: Instant): void {
    client.publish(this.#marker.topic, this.#marker.make(at), { qos: 1 }, () => {});
  }

  #markerCameBack({ payload }: IPublishPacket): void {
    const { now, observe } = this.#options;
    const sentAt = this.#marker.cameBack(payload);
    if (sentAt === null) return;
    if (!this.#caughtUp) observe({ kind: 'caught-up', afterMs: (now() - this.#subscribedAt) / MILLISECOND });
    this.#caughtUp = true;
    void this.#watch.mark(sentAt).then(() => {
      if (this.#lastMark && sentAt >= this.#lastMark.sentAt) this.#lastMark.marked();
    });
  }

  #tick(): void {
    if (this.#client.connected && this.#caughtUp && !this.#marker.isOut)
      this.#sendMarker(this.#client, this.#options.now());
  }

  #lost(client: MqttClient): void {
    if (client !== this.#client) return;
    this.#inFlight.connection = null;
    this.#caughtUp = false;
    this.#marker.forget();
    this.#watch.end();
    this.#options.observe({ kind: 'broker-lost' });
  }

  #failed(client: MqttClient, error: Error & { readonly code?: unknown }): void {
    if (client !== this.#client) return;
    this.#options.observe({ kind: 'broker-error', error });
    // 132 (MQTT 5) or 1 (3.1.1): "unsupported protocol version". Speak the older one from now on.
    if (client.options.protocolVersion !== 5 || (error.code !== 132 && error.code !== 1)) return;
    client.end(true);
    this.#client = this.#connect(4);
  }
}

const clientOptions = (options: ExternalOptions, protocolVersion: 4 | 5): IClientOptions => ({
  clientId: options.clientId,
  protocolVersion,
  clean: false,
  keepalive: KEEPALIVE_SECONDS,
  reconnectPeriod: 1_000,
  connectTimeout: 10_000,
  reconnectOnConnackError: true,
  resubscribe: false, // done at every connect, so that the marker follows it
  queueQoSZero: false,
  ...(protocolVersion === 5
    ? {
        properties: {
          sessionExpiryInterval: SESSION_EXPIRY_SECONDS,
          receiveMaximum: receiveMaximum(options),
        },
      }
    : {}),
});

/** The broker's own window to us, where the protocol has one; it counts 16 bits. */
const receiveMaximum = ({ highWater }: ExternalOptions): number => Math.min(highWater, 65_535);

const atQosOne = (filters: readonly string[]): Record<string, { qos: 1 }> =>
  Object.fromEntries(filters.map((filter) => [filter, { qos: 1 as const }]));

const elapsed = (ms: number): Promise<void> =>
  new Promise((done) => {
    setTimeout(done, ms).unref();
  });
