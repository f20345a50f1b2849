import type { Duplex } from 'node:stream';
import { connect, type IClientOptions, type IPublishPacket, type MqttClient } from 'mqtt';
import type { Waited } from '../message.ts';
import type { Observe } from '../observation.ts';
import { InFlight } from './in-flight.ts';

/**
 * A connection to an external broker through mqtt.js, on which messages are acknowledged after the commit.
 *
 * mqtt.js hands packets over one at a time and acknowledges when `handleMessage` calls back without an error. So we call
 * back at once with an error that marks "not yours to acknowledge", keep the packet's id and the connection it came on,
 * and write the PUBACKs of a batch ourselves after its commit. (That an error skips the acknowledgement is undocumented:
 * mqtt.js is pinned, and the kill tests hold it.)
 */
export interface LineOptions {
  readonly url: string;
  readonly clientId: string;
  /** durable: what isn't acknowledged comes again after a new connection; else nothing outlives the connection */
  readonly isDurable: boolean;
  /** MQTT 5 or nothing: an older broker would take a shared subscription for an ordinary one, and deliver nothing */
  readonly needsMqtt5?: boolean;
  /** messages received and not yet committed, and their bytes, at which the connection is held back */
  readonly highWater: number;
  readonly highWaterBytes: number;
  /** asked for before each connection: what the broker publishes when it is lost */
  readonly will?: () => Will;
  readonly observe: Observe;
  readonly connected: (as: { readonly protocol: 4 | 5; readonly sessionPresent: boolean }) => void;
  readonly lost: () => void;
  /** `committed` must be called in the end; null: it holds no data, and is acknowledged at once */
  readonly received: (received: Received) => Taking | null;
}

export interface Will {
  readonly topic: string;
  readonly payload: Buffer;
  readonly qos: 1;
  readonly retain: true;
}

export interface Received {
  readonly topic: string;
  readonly payload: Uint8Array;
  /** null: neither sent before nor retained */
  readonly waited: Extract<Waited, 'duplicate' | 'retained'> | null;
}

/** Takes the message, and calls `committed` when its batch has committed. */
export type Taking = (committed: () => void) => void;

const SESSION_EXPIRY_SECONDS = 7 * 86_400;
const KEEPALIVE_SECONDS = 60;
/** How long a stop waits for the broker. */
const GOODBYE_MS = 3_000;
const NOT_YOURS = new Error('acknowledged by us, after the commit');

export class BrokerLine {
  readonly #options: LineOptions;
  readonly #inFlight: InFlight;
  #client: MqttClient;

  constructor(options: LineOptions) {
    this.#options = options;
    const { highWater: messages, highWaterBytes: bytes } = options;
    this.#inFlight = new InFlight({ messages, bytes }, options.observe);
    this.#client = this.#connect(5);
  }

  get isConnected(): boolean {
    return this.#client.connected;
  }

  /** Comes back when the broker has answered; false: the connection was lost before. A refused filter is told of. */
  subscribe(filters: readonly string[]): Promise<boolean> {
    const { observe } = this.#options;
    const wanted = Object.fromEntries(filters.map((filter) => [filter, { qos: 1 as const }]));
    return new Promise((done) => {
      this.#client.subscribe(wanted, (error, granted) => {
        if (error) observe({ kind: 'broker-error', error });
        for (const { topic, qos } of granted ?? [])
          if (qos >= 128) observe({ kind: 'subscription-refused', filter: topic });
        done(!error);
      });
    });
  }

  /** Comes back when the broker has answered; false: it hasn't. */
  unsubscribe(filters: readonly string[]): Promise<boolean> {
    return new Promise((done) => {
      this.#client.unsubscribe([...filters], (error) => done(!error));
    });
  }

  /** Comes back when it is sent, with QoS 1 when the broker has taken it; one that is lost isn't told of. */
  publish(topic: string, payload: string | Buffer, options: { qos: 0 | 1; retain?: boolean }): Promise<void> {
    return new Promise((done) => {
      this.#client.publish(topic, payload, options, () => done());
    });
  }

  /** Nothing more is taken in: what isn't acknowledged stays with the broker. */
  close(): void {
    this.#client.handleMessage = ({ qos }, done) => done(qos > 0 ? NOT_YOURS : undefined);
  }

  /** `forGood`: the session ends with the connection. */
  async end(forGood = false): Promise<void> {
    await new Promise<void>((sent) => setImmediate(sent)); // the acknowledgements of the last batch
    const how = forGood ? { properties: { sessionExpiryInterval: 0 } } : {};
    await Promise.race([this.#client.endAsync(false, how), elapsed(GOODBYE_MS)]);
    this.#client.end(true);
  }

  #connect(protocolVersion: 4 | 5): MqttClient {
    const { url, will } = this.#options;
    const client = connect(url, clientOptions(this.#options, protocolVersion));
    client.handleMessage = (packet, done) => this.#receive(packet, done);
    client.on('connect', ({ sessionPresent }) => {
      this.#options.connected({ protocol: protocolVersion, sessionPresent });
    });
    client.on('packetreceive', ({ cmd }) => {
      if (cmd === 'connack') this.#inFlight.connection = client.stream as Duplex;
    });
    client.on('reconnect', () => {
      if (will) client.options.will = will();
    });
    client.on('close', () => this.#lost(client));
    client.on('error', (error) => this.#failed(client, error));
    return client;
  }

  #receive(packet: IPublishPacket, done: (error?: Error) => void): void {
    const { topic, payload, qos, messageId } = packet;
    const taking = this.#options.received({
      topic,
      payload: typeof payload === 'string' ? Buffer.from(payload) : payload,
      waited: packet.dup ? 'duplicate' : packet.retain ? 'retained' : null,
    });
    if (!taking) return done(); // mqtt.js acknowledges it
    const stream = this.#client.stream as Duplex;
    const packetId = qos > 0 ? (messageId ?? null) : null;
    const bytes = payload.length;
    this.#inFlight.receive(
      bytes,
      () => taking(() => this.#inFlight.commit(bytes, stream, packetId)),
      () => done(packetId === null ? undefined : NOT_YOURS),
    );
  }

  #lost(client: MqttClient): void {
    if (client !== this.#client) return;
    this.#inFlight.connection = null;
    this.#options.lost();
  }

  #failed(client: MqttClient, error: Error & { readonly code?: unknown }): void {
    if (client !== this.#client) return;
    this.#options.observe({ kind: 'broker-error', error });
    // 132 (MQTT 5) or 1 (3.1.1): "unsupported protocol version". Speak the older one from now on.
    if (client.options.protocolVersion !== 5 || (error.code !== 132 && error.code !== 1)) return;
    if (this.#options.needsMqtt5) return; // tried again: the broker may be replaced
    client.end(true);
    this.#client = this.#connect(4);
  }
}

const clientOptions = (options: LineOptions, protocolVersion: 4 | 5): IClientOptions => ({
  clientId: options.clientId,
  protocolVersion,
  clean: !options.isDurable,
  keepalive: KEEPALIVE_SECONDS,
  reconnectPeriod: 1_000,
  connectTimeout: 10_000,
  reconnectOnConnackError: true,
  resubscribe: false, // done at every connect, in an order of our own
  queueQoSZero: false,
  ...(options.will ? { will: options.will() } : {}),
  ...(protocolVersion === 5
    ? {
        properties: {
          sessionExpiryInterval: options.isDurable ? SESSION_EXPIRY_SECONDS : 0,
          receiveMaximum: receiveMaximum(options),
        },
      }
    : {}),
});

/** The broker's own window to us, where the protocol has one; it counts 16 bits. */
const receiveMaximum = ({ highWater }: LineOptions): number => Math.min(highWater, 65_535);

export const elapsed = (ms: number): Promise<void> =>
  new Promise((done) => {
    setTimeout(done, ms).unref();
  });
