import { connect } from 'mqtt';

/** The baseline of what comes in: an mqtt.js client with a durable session and QoS 1, which only counts. */
const { port, messages } = JSON.parse(process.argv[2]!) as { port: number; messages: number };

const client = connect(`mqtt://127.0.0.1:${port}`, {
  clientId: 'bench-subscriber',
  clean: false,
  reconnectPeriod: 0,
});
let count = 0;
client.on('message', () => {
  if (++count === messages) process.send!({ kind: 'all' });
});
client.on('connect', () => client.subscribe('holdoff/#', { qos: 1 }, () => process.send!({ kind: 'ready' })));
process.on('message', () => {
  const { user, system } = process.cpuUsage();
  process.send!({ kind: 'usage', microseconds: user + system });
});
process.on('disconnect', () => process.exit(0));
