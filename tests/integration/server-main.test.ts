import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { createServer, type AddressInfo, type Server } from 'node:net';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { freePort } from '../fixtures/mosquitto.ts';
import { startAsItStands, startChild } from '../fixtures/child.ts';

/** `npm start` as people meet it, in a process of its own. */
let folder: string;
const taken: Server[] = [];

beforeAll(async () => {
  folder = await mkdtemp(join(tmpdir(), 'holdoff-main-'));
  await chmod(folder, 0o755); // started by root, PostgreSQL runs as another user
});
afterAll(async () => {
  for (const server of taken) server.close();
  await rm(folder, { recursive: true, force: true });
});

const environment = async (changes: Record<string, string> = {}) => ({
  PORT: String(await freePort()),
  MQTT_PORT: String(await freePort()),
  DATA_DIR: join(folder, 'data'),
  DEMO: '0',
  ...changes,
});

async function takePort(): Promise<string> {
  const server = createServer();
  taken.push(server);
  await new Promise<void>((resolve) => server.listen(0, '127.0.0.1', resolve));
  return String((server.address() as AddressInfo).port);
}

test('starts, answers, serves the page, stops in order, and starts again with its data', async () => {
  const settings = await environment();
  const at = `http://127.0.0.1:${settings.PORT}`;
  const first = startAsItStands('server/main.ts', settings);
  await first.said(`Holdoff is at ${at}/`);
  const ready = (await (await fetch(`${at}/api/ready`)).json()) as {
    ready: boolean;
    parts: { name: string }[];
  };
  expect(ready.ready).toBe(true);
  expect(ready.parts.map(({ name }) => name)).toEqual([
    ...['database', 'storage', 'watch', 'inference', 'notices'],
    ...['broker', 'ingest'],
  ]);
  const page = await fetch(`${at}/`);
  expect([page.status, page.headers.get('content-type')]).toEqual([200, 'text/html; charset=utf-8']);
  const body = JSON.stringify({ timeZone: 'UTC', name: 'kept' });
  const put = { method: 'PUT', headers: { 'content-type': 'application/json' }, body };
  expect((await fetch(`${at}/api/sites/rowan`, put)).status).toBe(201);
  expect(await first.stop()).toBe(0);
  await expect(fetch(`${at}/api/health`)).rejects.toThrow();

  const second = startChild('server/main.ts', settings);
  await second.said(`Holdoff is at ${at}/`);
  const kept = (await (await fetch(`${at}/api/sites/rowan`)).json()) as { name: string };
  expect(kept.name).toBe('kept');
  expect(await second.stop()).toBe(0);
});

test.each([
  ['PORT', (port: string) => `Port ${port} is taken by another program: end that, or set PORT to another.`],
  [
    'MQTT_PORT',
    (port: string) =>
      `MQTT_PORT ${port} is taken: another broker listens there. Set another MQTT_PORT, or MQTT_URL to use that broker.`,
  ],
])('a %s that is taken is said in words, and nothing is left running', async (name, says) => {
  const port = await takePort();
  const child = startChild('server/main.ts', await environment({ [name]: port }));
  await child.said(says(port));
  expect(await child.stop()).toBe(1);
});

test('another machine’s way in without a token is refused before anything starts', async () => {
  const child = startChild('server/main.ts', await environment({ HOST: '0.0.0.0' }));
  await child.said(
    'HOST=0.0.0.0 would let other machines in, and there is no token: set BOOTSTRAP_TOKEN ' +
      '(at least 32 characters), or leave HOST at 127.0.0.1.',
  );
  expect(await child.stop()).toBe(1);
});
