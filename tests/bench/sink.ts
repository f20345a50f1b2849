import { createServer, type AddressInfo, type Socket } from 'node:net';

/**
 * Takes what a publisher sends and acknowledges it at once, doing nothing else: what is measured against it is the
 * publisher's own greatest rate. Runs in a process of its own; knows just enough of MQTT 3.1.1 (fixed header, remaining
 * length, packet identifier after the topic).
 */
const CONNACK = Buffer.from([0x20, 2, 0, 0]);
const DISCONNECT = 0xe0;

const server = createServer((socket) => {
  let kept: Buffer = Buffer.alloc(0);
  socket.setNoDelay(true);
  socket.on('error', () => socket.destroy());
  socket.on('data', (data) => {
    kept = answer(socket, kept.length > 0 ? Buffer.concat([kept, data]) : data);
  });
});
server.listen(0, '127.0.0.1', () => process.send!({ port: (server.address() as AddressInfo).port }));
process.on('disconnect', () => process.exit(0));

/** answers every whole packet; gives back what is left over */
function answer(socket: Socket, data: Buffer): Buffer {
  const answers: number[] = [];
  let at = 0;
  for (;;) {
    const body = bodyOf(data, at);
    if (!body) break;
    if (data[at] === 0x10) socket.write(CONNACK);
    else if (data[at] !== DISCONNECT) {
      const identifier = body.from + 2 + data.readUInt16BE(body.from);
      answers.push(0x40, 2, data[identifier]!, data[identifier + 1]!);
    }
    at = body.to;
  }
  if (answers.length > 0) socket.write(Buffer.from(answers));
  return data.subarray(at);
}

function bodyOf(data: Buffer, at: number): { readonly from: number; readonly to: number } | null {
  let length = 0;
  for (let i = 1; i <= 4; i++) {
    const byte = data[at + i];
    if (byte === undefined) return null;
    length += (byte & 127) * 128 ** (i - 1);
    if (byte < 128)
      return at + i + 1 + length <= data.length ? { from: at + i + 1, to: at + i + 1 + length } : null;
  }
  throw new Error('a remaining length of more than four bytes');
}
