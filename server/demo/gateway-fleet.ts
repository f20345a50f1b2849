import type { GatewayMessage } from '../../shared/building/messages.ts';
import { GatewayOutbox, type OutboxOptions } from './gateway-outbox.ts';

/** All gateways of some sites: each has its own client id and outbox, made when it first has something to tell. */
export interface FleetOptions extends Pick<OutboxOptions, 'brokerUrl' | 'capacity' | 'inFlight'> {
  /** first part of the client ids */
  readonly name: string;
  /** told when the first gateway loses the broker, and when the last one has it back */
  readonly onConnection?: (connected: boolean, why: string) => void;
}

export class GatewayFleet {
  readonly #options: FleetOptions;
  readonly #outboxes = new Map<string, GatewayOutbox>();
  readonly #cut = new Set<string>();

  constructor(options: FleetOptions) {
    this.#options = options;
  }

  async send(site: string, message: GatewayMessage): Promise<void> {
    const clientId = `${this.#options.name}-${site}-${message.gateway}`;
    const outbox = this.#outboxes.get(clientId) ?? this.#open(clientId);
    await outbox.send(message);
  }

  get acknowledged(): number {
    let sum = 0;
    for (const outbox of this.#outboxes.values()) sum += outbox.acknowledged;
    return sum;
  }

  async drained(): Promise<void> {
    await Promise.all([...this.#outboxes.values()].map((outbox) => outbox.drained()));
  }

  async close(): Promise<void> {
    await Promise.all([...this.#outboxes.values()].map((outbox) => outbox.close()));
  }

  #open(clientId: string): GatewayOutbox {
    const { brokerUrl, capacity, inFlight } = this.#options;
    const onConnection = (connected: boolean, why: string): void => this.#heard(clientId, connected, why);
    const outbox = new GatewayOutbox({ brokerUrl, capacity, inFlight, clientId, onConnection });
    this.#outboxes.set(clientId, outbox);
    return outbox;
  }

  #heard(clientId: string, connected: boolean, why: string): void {
    const before = this.#cut.size;
    if (connected) this.#cut.delete(clientId);
    else this.#cut.add(clientId);
    if (before === 0 && this.#cut.size === 1) this.#options.onConnection?.(false, why);
    if (before > 0 && this.#cut.size === 0) this.#options.onConnection?.(true, '');
  }
}
