import { connect } from 'node:net';
import { generate } from 'mqtt-packet';
import { messagesOf, type Load } from './messages.ts';

/**
 * A publisher in a process of its own, faster than anything it is pointed at: packets are made before the clock starts,
 * written to the socket by the hundred, and acknowledgements are only counted (a PUBACK has four bytes). QoS 1, at most
 * `WINDOW` unacknowledged. Says how long it took, and for which share of that it had to wait for the other side.
 */
const WINDOW = 2000;
const CHUNK = 100;

export interface PublishOrder {
  readonly port: number;
  readonly load: Load;
}

export type PublisherSays =
  | { readonly kind: 'ready' }
  | { readonly kind: 'done'; readonly seconds: number; readonly waitingShare: number };

const tell = (says: PublisherSays) => process.send!(says);
const order = JSON.parse(process.argv[2]!) as PublishOrder;
const chunks = chunksOf(order.load);
const socket = connect({ port: order.port, host: '127.0.0.1', noDelay: true });
let sent = 0;
let acknowledged = -1; // until CONNACK, which has four bytes too
let bytes = 0;
let started = 0;
let waitingSince = 0;
let waited = 0;

socket.on('error', (error) => {
  console.error(error);
  process.exit(1);
});
socket.on('data', (data) => {
  bytes += data.length;
  const answers = Math.floor(bytes / 4) - 1;
  if (acknowledged < 0) tell({ kind: 'ready' });
  acknowledged = answers;
  if (acknowledged === order.load.messages) finish();
  else if (started > 0) write();
});
socket.write(
  generate({
    cmd: 'connect',
    clientId: 'bench-publisher',
    clean: true,
    protocolId: 'MQTT',
    protocolVersion: 4,
    keepalive: 0,
  }),
);
process.on('message', () => {
  started = performance.now();
  write();
});

function write(): void {
  if (waitingSince > 0) waited += performance.now() - waitingSince;
  waitingSince = 0;
  while (chunks[sent / CHUNK] && sent - acknowledged + CHUNK <= WINDOW) {
    socket.write(chunks[sent / CHUNK]!);
    sent += CHUNK;
  }
  if (sent < order.load.messages) waitingSince = performance.now();
}

function finish(): void {
  const seconds = (performance.now() - started) / 1000;
  tell({ kind: 'done', seconds, waitingShare: waited / 1000 / seconds });
  socket.end(() => process.exit(0));
}

function chunksOf(load: Load): Buffer[] {
  const packets = [...messagesOf(load)].map(({ topic, payload }, i) =>
    generate({
      cmd: 'publish',
      topic,
      payload,
      qos: 1,
      messageId: (i % 65_535) + 1,
      dup: false,
      retain: false,
    }),
  );
  const chunks: Buffer[] = [];
  for (let i = 0; i < packets.length; i += CHUNK) chunks.push(Buffer.concat(packets.slice(i, i + CHUNK)));
  return chunks;
}
