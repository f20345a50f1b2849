import { connect } from 'node:net';
import { generate } from 'mqtt-packet';
import { SITE } from './unit-record.ts';

/**
 * Gateways that send at a steady rate, in a process of their own: one-sample messages at QoS 1, timed now, each hundredth of
 * a second as many as are due. Begins when it is told to; says `sent` when the last was acknowledged.
 */
export interface PacedOrder {
  readonly port: number;
  /** messages a second */
  readonly rate: number;
  readonly units: number;
  /** null: until it is ended */
  readonly seconds: number | null;
}

const { port, rate, units, seconds } = JSON.parse(process.argv[2]!) as PacedOrder;
const most = seconds === null ? Infinity : rate * seconds;
const socket = connect({ port, host: '127.0.0.1', noDelay: true });
let sent = 0;
let bytes = 0;
let begun = 0;

const protocol = { protocolId: 'MQTT', protocolVersion: 4 } as const;
socket.write(generate({ cmd: 'connect', clientId: 'bench-paced', clean: true, keepalive: 0, ...protocol }));
socket.on('data', (data) => {
  const before = bytes;
  bytes += data.length;
  if (before === 0) process.send!({ kind: 'ready' });
  // CONNACK and PUBACK have four bytes each
  if (bytes / 4 - 1 === most) process.send!({ kind: 'sent' });
});

function packet(i: number): Buffer {
  const topic = `holdoff/${SITE}/unit-${(i % units) + 1}/control-voltage`;
  // no two of a unit at one instant
  const payload = JSON.stringify({ t: Date.now() + (Math.floor(i / units) % 1000) / 1000, v: 26.1 });
  const messageId = (i % 65_535) + 1;
  return generate({ cmd: 'publish', topic, payload, qos: 1, messageId, dup: false, retain: false });
}

function sendWhatIsDue(): void {
  const due = Math.min(most, Math.floor(((performance.now() - begun) * rate) / 1000));
  const packets: Buffer[] = [];
  for (; sent < due; sent++) packets.push(packet(sent));
  if (packets.length > 0) socket.write(Buffer.concat(packets));
}

process.on('message', () => {
  begun = performance.now();
  setInterval(sendWhatIsDue, 10);
});
process.on('disconnect', () => process.exit(0));
process.on('SIGTERM', () => process.exit(0));
