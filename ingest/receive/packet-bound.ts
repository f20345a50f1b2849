import type { Socket } from 'node:net';

/** The largest packet that a client may send, in bytes after the fixed header: as mosquitto.conf has it. */
const LARGEST_PACKET = 2_097_152;

/**
 * Follows the fixed headers of a connection's packets (MQTT 3.1.1 section 2.2: one byte of type, then the remaining length
 * in up to four bytes of seven bits) without keeping anything. Answers false as soon as a packet says that it is too large.
 */
export class PacketBound {
  readonly #largest: number;
  /** bytes of the present packet still to come; -1: a packet's first byte comes next; -2: its length does */
  #left = -1;
  #length = 0;
  #shift = 0;

  constructor(largest: number) {
    this.#largest = largest;
  }

  takes(chunk: Uint8Array): boolean {
    for (let at = 0; at < chunk.length;) {
      if (this.#left > 0) {
        const skipped = Math.min(this.#left, chunk.length - at);
        this.#left -= skipped;
        at += skipped;
        if (this.#left === 0) this.#left = -1;
      } else if (!this.#header(chunk[at++]!)) return false;
    }
    return true;
  }

  #header(byte: number): boolean {
    if (this.#left === -1) {
      this.#left = -2;
      this.#length = 0;
      this.#shift = 0;
      return true;
    }
    this.#length += (byte & 0x7f) * 2 ** this.#shift;
    this.#shift += 7;
    if (this.#length > this.#largest || this.#shift > 28) return false;
    if ((byte & 0x80) === 0) this.#left = this.#length === 0 ? -1 : this.#length;
    return true;
  }
}

/** Ends the connection at a packet beyond the bound, before it is gathered in memory. aedes itself has no bound. */
export function boundPackets(socket: Socket, refused: () => void): void {
  const bound = new PacketBound(LARGEST_PACKET);
  const read = socket.read.bind(socket);
  socket.read = (size?: number): unknown => {
    const chunk: unknown = read(size);
    if (!(chunk instanceof Uint8Array) || bound.takes(chunk)) return chunk;
    refused();
    socket.destroy();
    return null;
  };
}
