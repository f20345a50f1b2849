import { connect, type Socket } from 'node:net';
import { generate } from 'mqtt-packet';
import { messagesOf, type Load } from './messages.ts';

/**
 * Several gateways in a process of their own, faster than anything they are pointed at: packets are made before the clock
 * starts, written by the hundred, and acknowledgements are only counted (CONNACK and PUBACK have four bytes each). QoS 1,
 * each with at most `WINDOW` unacknowledged. Says how long it took until the last acknowledgement, and for which share of
 * that there was nothing to do but wait.
 */
const GATEWAYS = 8;
const WINDOW = 400;
const CHUNK = 100;

export interface PublishOrder {
  readonly port: number;
  readonly load: Load;
}

export type PublisherSays =
  | { readonly kind: 'ready' }
  | { readonly kind: 'done'; readonly seconds: number; readonly waitingShare: number };

class Gateway {
  readonly #chunks: readonly Buffer[];
  readonly #count: number;
  readonly #socket: Socket;
  readonly #connected: () => void;
  readonly #done: () => void;
  #sent = 0;
  #answers = 0;
  #bytes = 0;
  /** ms that were spent writing */
  busy = 0;

  constructor(packets: readonly Buffer[], port: number, connected: () => void, done: () => void) {
    this.#count = packets.length;
    this.#chunks = chunksOf(packets);
    this.#connected = connected;
    this.#done = done;
    this.#socket = connect({ port, host: '127.0.0.1', noDelay: true });
    this.#socket.on('data', (data) => this.#heard(data.length));
  }

  connect(clientId: string): void {
    const protocol = { protocolId: 'MQTT', protocolVersion: 4 } as const;
    this.#socket.write(generate({ cmd: 'connect', clientId, clean: true, keepalive: 0, ...protocol }));
  }

  write(): void {
    const started = performance.now();
    for (let chunk; (chunk = this.#chunks[this.#sent / CHUNK]) && this.#hasRoom; this.#sent += CHUNK)
      this.#socket.write(chunk);
    this.busy += performance.now() - started;
  }

  get #hasRoom(): boolean {
    return this.#sent - (this.#answers - 1) + CHUNK <= WINDOW;
  }

  #heard(bytes: number): void {
    const before = this.#answers;
    this.#bytes += bytes;
    this.#answers = Math.floor(this.#bytes / 4);
    if (before === 0 && this.#answers > 0) return this.#connected();
    if (this.#answers - 1 === this.#count) return this.#done();
    this.write();
  }
}

function chunksOf(packets: readonly Buffer[]): Buffer[] {
  const chunks: Buffer[] = [];
  for (let i = 0; i < packets.length; i += CHUNK) chunks.push(Buffer.concat(packets.slice(i, i + CHUNK)));
  return chunks;
}

function packetsOf(load: Load): Buffer[][] {
  const packets: Buffer[][] = Array.from({ length: GATEWAYS }, () => []);
  let place = 0;
  for (const { topic, payload } of messagesOf(load)) {
    const own = packets[place++ % GATEWAYS]!;
    const messageId = (own.length % 65_535) + 1;
    own.push(generate({ cmd: 'publish', topic, payload, qos: 1, messageId, dup: false, retain: false }));
  }
  return packets;
}

/** calls back when it was called as often as there are gateways */
function all(then: () => void): () => void {
  let left = GATEWAYS;
  return () => {
    if (--left === 0) then();
  };
}

const tell = (says: PublisherSays) => process.send!(says);
const { port, load } = JSON.parse(process.argv[2]!) as PublishOrder;
let started = 0;
const connected = all(() => tell({ kind: 'ready' }));
const done = all(() => {
  const took = performance.now() - started;
  const busy = gateways.reduce((sum, gateway) => sum + gateway.busy, 0);
  tell({ kind: 'done', seconds: took / 1000, waitingShare: 1 - busy / took });
  process.disconnect();
  setImmediate(() => process.exit(0));
});
const gateways = packetsOf(load).map((packets) => new Gateway(packets, port, connected, done));
for (const [i, gateway] of gateways.entries()) gateway.connect(`bench-${i + 1}`);
process.on('message', () => {
  started = performance.now();
  for (const gateway of gateways) gateway.write();
});
