import type { GatewayMessage } from '../../shared/building/messages.ts';
import { connect, type MqttClient } from '../mqtt.ts';

/**
 * The outbox of one simulated gateway: QoS 1, its own client id, its messages in order, each kept until the broker has
 * acknowledged it and sent again after a lost connection. Bounded: `send` waits while it is full.
 * Every connection is a new client, so that nothing is sent again but by this outbox.
 */
export interface OutboxOptions {
  readonly brokerUrl: string;
  readonly clientId: string;
  /** messages kept, waiting and in flight */
  readonly capacity: number;
  /** messages on their way unacknowledged */
  readonly inFlight: number;
  /** told once when the broker can't be reached, and when it is back */
  readonly onConnection?: (connected: boolean, why: string) => void;
}

const FIRST_RETRY = 200;
const LAST_RETRY = 5_000;

export class GatewayOutbox {
  readonly #options: OutboxOptions;
  readonly #waiting: GatewayMessage[] = [];
  readonly #flying = new Set<GatewayMessage>();
  readonly #turns: (() => void)[] = [];
  #client: MqttClient | null = null;
  #connected = false;
  #retry = FIRST_RETRY;
  #timer: NodeJS.Timeout | null = null;
  #closed = false;
  #acknowledged = 0;

  constructor(options: OutboxOptions) {
    this.#options = options;
    this.#connect();
  }

  get acknowledged(): number {
    return this.#acknowledged;
  }

  /** Takes a message; resolves when there was room for it. */
  async send(message: GatewayMessage): Promise<void> {
    while (!this.#closed && this.#waiting.length + this.#flying.size >= this.#options.capacity)
      await this.#turn();
    if (this.#closed) return;
    this.#waiting.push(message);
    this.#pump();
  }

  /** Resolves when everything taken so far has been acknowledged, or the outbox was closed. */
  async drained(): Promise<void> {
    while (!this.#closed && this.#waiting.length + this.#flying.size > 0) await this.#turn();
  }

  /** Gives up what is left. */
  async close(): Promise<void> {
    this.#closed = true;
    if (this.#timer) clearTimeout(this.#timer);
    this.#wake();
    await this.#client?.endAsync(true).catch(() => undefined);
  }

  #turn(): Promise<void> {
    return new Promise((resolve) => this.#turns.push(resolve));
  }

  #wake(): void {
    for (const resolve of this.#turns.splice(0)) resolve();
  }

  #connect(): void {
    const client = connect(this.#options.brokerUrl, {
      clientId: this.#options.clientId,
      clean: true,
      keepalive: 60,
      reconnectPeriod: 0,
      connectTimeout: 10_000,
    });
    this.#client = client;
    client.on('connect', () => {
      this.#connected = true;
      this.#retry = FIRST_RETRY;
      this.#options.onConnection?.(true, '');
      this.#pump();
    });
    let why = 'connection closed';
    client.on('error', (error) => {
      why = error.message || String((error as NodeJS.ErrnoException).code ?? error);
    });
    client.on('close', () => this.#lost(client, why));
  }

  /** What was on its way goes back to the front, in order, for the next connection. */
  #lost(client: MqttClient, why: string): void {
    if (client !== this.#client || this.#closed) return;
    this.#client = null;
    this.#connected = false;
    this.#waiting.unshift(...this.#flying);
    this.#flying.clear();
    client.end(true);
    this.#options.onConnection?.(false, why);
    this.#timer = setTimeout(() => this.#connect(), this.#retry * (0.75 + Math.random() / 2));
    this.#retry = Math.min(LAST_RETRY, this.#retry * 2);
  }

  #pump(): void {
    const client = this.#client;
    while (client && this.#connected && this.#flying.size < this.#options.inFlight) {
      const message = this.#waiting.shift();
      if (!message) return;
      this.#flying.add(message);
      client.publish(message.topic, message.payload, { qos: 1 }, (error) => {
        if (!error && client === this.#client) this.#landed(message);
      });
    }
  }

  #landed(message: GatewayMessage): void {
    if (!this.#flying.delete(message)) return;
    this.#acknowledged++;
    this.#pump();
    this.#wake();
  }
}
