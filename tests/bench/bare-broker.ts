import { createServer, type AddressInfo } from 'node:net';
import { Aedes } from 'aedes';

/** The baseline of the embedded broker: aedes by itself, which acknowledges at once and gives to nobody. */
const broker = await Aedes.createBroker();
const server = createServer((socket) => void broker.handle(socket));
server.listen(0, '127.0.0.1', () =>
  process.send!({ kind: 'ready', port: (server.address() as AddressInfo).port }),
);
process.on('disconnect', () => process.exit(0));
process.on('SIGTERM', () => process.exit(0));
