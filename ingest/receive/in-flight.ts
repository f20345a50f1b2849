import type { Duplex } from 'node:stream';
import type { Observe } from '../observation.ts';
import { pubacks } from './puback.ts';

/** At which the connection is held back. */
export interface HighWater {
  readonly messages: number;
  /** of payloads */
  readonly bytes: number;
}

/**
 * Messages received from an external broker and not yet committed: their acknowledgements, written in one go for each
 * batch and only on the connection that they came on, and the high-water marks of their count and their bytes, at either of
 * which the connection is held back until half of both is left.
 */
export class InFlight {
  readonly #most: HighWater;
  readonly #observe: Observe;
  readonly #held: (() => void)[] = [];
  #acknowledged = new Map<Duplex, number[]>();
  #count = 0;
  #bytes = 0;
  #current: Duplex | null = null;

  constructor(most: HighWater, observe: Observe) {
    this.#most = most;
    this.#observe = observe;
  }

  /** The connection that now stands; packet ids of any other mean nothing to the broker. */
  set connection(stream: Duplex | null) {
    this.#current = stream;
  }

  /** One more was received. `letNextIn` is called now, or when the high-water marks allow. */
  receive(bytes: number, letNextIn: () => void): void {
    this.#count++;
    this.#bytes += bytes;
    if (this.#isWithin(1)) return letNextIn();
    if (this.#held.length === 0) this.#observe({ kind: 'held-back', ...this.#load });
    this.#held.push(letNextIn);
  }

  /** It is committed. `packetId`: null for QoS 0, which knows no acknowledgement. */
  commit(bytes: number, stream: Duplex, packetId: number | null): void {
    this.#count--;
    this.#bytes -= bytes;
    if (packetId !== null) this.#acknowledge(stream, packetId);
    if (this.#held.length === 0 || !this.#isWithin(0.5)) return;
    this.#observe({ kind: 'let-go', ...this.#load });
    for (const letNextIn of this.#held.splice(0)) letNextIn();
  }

  get #load() {
    return { inFlight: this.#count, bytes: this.#bytes };
  }

  #isWithin(part: number): boolean {
    return this.#count < this.#most.messages * part + (1 - part) && this.#bytes < this.#most.bytes * part;
  }

  #acknowledge(stream: Duplex, packetId: number): void {
    if (this.#acknowledged.size === 0) queueMicrotask(() => this.#flush());
    const ids = this.#acknowledged.get(stream);
    if (ids) ids.push(packetId);
    else this.#acknowledged.set(stream, [packetId]);
  }

  #flush(): void {
    const acknowledged = this.#acknowledged;
    this.#acknowledged = new Map();
    for (const [stream, ids] of acknowledged) {
      if (stream === this.#current && !stream.destroyed) stream.write(pubacks(ids));
      else this.#observe({ kind: 'acknowledgements-dropped', messages: ids.length });
    }
  }
}
