import type { Duplex } from 'node:stream';
import type { Observe } from '../observation.ts';
import { pubacks } from './puback.ts';

/**
 * Messages received from an external broker and not yet committed: their acknowledgements, written in one go for each
 * batch and only on the connection that they came on, and the high-water mark, at which the connection is held back until
 * half of it is left.
 */
export class InFlight {
  readonly #highWater: number;
  readonly #observe: Observe;
  readonly #held: (() => void)[] = [];
  #acknowledged = new Map<Duplex, number[]>();
  #count = 0;
  #current: Duplex | null = null;

  constructor(highWater: number, observe: Observe) {
    this.#highWater = highWater;
    this.#observe = observe;
  }

  /** The connection that now stands; packet ids of any other mean nothing to the broker. */
  set connection(stream: Duplex | null) {
    this.#current = stream;
  }

  /** One more was received. `letNextIn` is called now, or when the high-water mark allows. */
  receive(letNextIn: () => void): void {
    this.#count++;
    if (this.#count < this.#highWater) return letNextIn();
    if (this.#held.length === 0) this.#observe({ kind: 'held-back', inFlight: this.#count });
    this.#held.push(letNextIn);
  }

  /** It is committed. `packetId`: null for QoS 0, which knows no acknowledgement. */
  commit(stream: Duplex, packetId: number | null): void {
    this.#count--;
    if (packetId !== null) this.#acknowledge(stream, packetId);
    if (this.#held.length === 0 || this.#count > this.#highWater / 2) return;
    this.#observe({ kind: 'let-go', inFlight: this.#count });
    for (const letNextIn of this.#held.splice(0)) letNextIn();
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
