import { once } from 'node:events';
import { createServer, type AddressInfo } from 'node:net';
import { expect, test } from 'vitest';
import { listen } from '../../db/follow-listen.ts';

test('who listens can stop while the database hasn’t answered yet', async () => {
  const silent = createServer((socket) => void socket.resume()).listen(0, '127.0.0.1');
  await once(silent, 'listening');
  const came = once(silent, 'connection');
  const { port } = silent.address() as AddressInfo;
  const listener = listen(`postgres://nobody@127.0.0.1:${port}/nothing`, ['holdoff_committed'], () => {});
  await came;
  await listener.close();
  silent.close();
  await once(silent, 'close');
  expect(silent.listening).toBe(false);
});
