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
 * which the connection is held back until half of both is left. One that is held back for longer than its keepalive is lost,
 * and each new one brings a message at once: none of them is taken meanwhile, so the marks hold however long it lasts.
 */
export class InFlight {
  readonly #most: HighWater;
  readonly #observe: Observe;
  #isHeld = false;
  /** of the connection that stands: how the next comes, or one that has come and isn't taken */
  #next: (() => void) | null = null;
  #acknowledged = new Map<Duplex, number[]>();
  #count = 0;
  #bytes = 0;
  #current: Duplex | null = null;

  constructor(most: HighWater, observe: Observe) {
    this.#most = most;
    this.#observe = observe;
  }

  /** The connection that now stands; packet ids of any other mean nothing to the broker, and what it sent comes again. */
  set connection(stream: Duplex | null) {
    this.#current = stream;
    this.#next = null;
  }

  /**
   * One more has come; the next comes when `letNextIn` is called. Both are done now, or when the high-water marks allow: only
   * what is taken counts. Never, where the connection is lost before.
   */
  receive(bytes: number, take: () => void, letNextIn: () => void): void {
    if (this.#isHeld) {
      this.#next = () => this.receive(bytes, take, letNextIn);
      return;
    }
    this.#count++;
    this.#bytes += bytes;
    take();
    if (this.#isWithin(1)) return letNextIn();
    this.#isHeld = true;
    this.#next = letNextIn;
    this.#observe({ kind: 'held-back', ...this.#load });
  }

  /** It is committed. `packetId`: null for QoS 0, which knows no acknowledgement. */
  commit(bytes: number, stream: Duplex, packetId: number | null): void {
    this.#count--;
    this.#bytes -= bytes;
    if (packetId !== null) this.#acknowledge(stream, packetId);
    if (!this.#isHeld || !this.#isWithin(0.5)) return;
    this.#isHeld = false;
    this.#observe({ kind: 'let-go', ...this.#load });
    const next = this.#next;
    this.#next = null;
    next?.();
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
