import { randomUUID } from 'node:crypto';
import type { Moment } from '../clock.ts';

/**
 * Our own message to ourselves. It comes back behind everything that the broker had for us when it was sent, so its return
 * says two things: what came before may have waited (contract 1.4), and all that was sent until then is received. Its
 * topic lies beside the telemetry's root, never below it: no gateway and no unit hears it.
 */
export class Marker {
  readonly topic: string;
  #sent: { readonly id: string; readonly at: Moment } | null = null;

  constructor(root: string, clientId: string) {
    this.topic = `${root}-ingest/${clientId}/marker`;
  }

  /** The payload of a new one, to be sent at QoS 1, so that it takes its place behind what is queued. It takes the place
   * of one that is still out. */
  make(at: Moment): string {
    const id = randomUUID();
    this.#sent = { id, at };
    return id;
  }

  get isOut(): boolean {
    return this.#sent !== null;
  }

  /** The connection is gone, and what was out with it. */
  forget(): void {
    this.#sent = null;
  }

  /** When the one that came back was sent; null: it is an old one, or not ours. */
  cameBack(payload: Uint8Array | string): Moment | null {
    if (this.#sent === null || String(payload) !== this.#sent.id) return null;
    const { at } = this.#sent;
    this.#sent = null;
    return at;
  }
}
