import { execFile } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { promisify } from 'node:util';
import { connectAsync } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test, vi } from 'vitest';
import { parse } from 'yaml';
import { startAsItStands, type Child } from '../fixtures/child.ts';
import { freePort, MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

/**
 * The commands that docker-compose.yml would run, run here: same files, same environment; only what its network and its
 * secrets would fill in is filled in by the test.
 */
interface Service {
  readonly command: readonly string[];
  readonly environment: Readonly<Record<string, string>>;
  readonly healthcheck?: { readonly test: readonly string[] };
}

const { services } = parse(readFileSync('docker-compose.yml', 'utf8'), { merge: true }) as {
  services: Record<'ingest' | 'ingest-2' | 'server', Service>;
};
const TOKEN = 'a-token-of-forty-characters-for-the-test';
const NOW = '2026-03-02T08:15:00.250Z';

describe.skipIf(MOSQUITTO_IS_MISSING)('the containers’ processes', () => {
  let database: FreshDatabase;
  let broker: Mosquitto;
  let port: string;
  let ingest: Child;
  let second: Child;
  let server: Child;

  beforeAll(async () => {
    [database, broker, port] = [await freshDatabase(), await startMosquitto(), String(await freePort())];
    ingest = start('ingest');
    second = start('ingest-2'); // of the profile “scale”
    server = start('server');
    await server.said(`The server is at http://127.0.0.1:${port}/`);
  });
  afterAll(async () => {
    await Promise.all([ingest.kill(), second.kill(), server.kill()]);
    await broker.stop();
    await database.drop();
  });

  const filledIn = (name: string, value: string): string => {
    const network: Record<string, string> = {
      DATABASE_URL: database.url,
      MQTT_URL: broker.url,
      INGEST_GROUP: 'line',
      HOST: '127.0.0.1',
      PORT: port,
      BOOTSTRAP_TOKEN: TOKEN,
    };
    return network[name] ?? value;
  };

  function start(name: 'ingest' | 'ingest-2' | 'server'): Child {
    const { command, environment } = services[name];
    const filled = Object.entries(environment).map(([key, value]) => [key, filledIn(key, value)]);
    return startAsItStands(command.at(-1)!, { NODE_ENV: 'production', ...Object.fromEntries(filled) });
  }

  const ask = (path: string, more: RequestInit = {}) =>
    fetch(`http://127.0.0.1:${port}${path}`, {
      ...more,
      headers: { authorization: `Bearer ${TOKEN}`, 'content-type': 'application/json' },
    });

  test('the server’s health check finds it well, with the very command that the engine would run', async () => {
    const [kind, program, ...rest] = services.server.healthcheck!.test;
    expect(kind).toBe('CMD');
    const given = rest.map((argument) => argument.replace('8080', port));
    await promisify(execFile)(program!, given); // rejects unless it ends with 0
    const wrong = rest.map((argument) => argument.replace('8080', '1'));
    await expect(promisify(execFile)(program!, wrong)).rejects.toThrow();
  });

  test('without the token nothing is told', async () => {
    expect((await fetch(`http://127.0.0.1:${port}/api/sites`)).status).toBe(401);
  });

  test('a message published at the broker comes out of the server', async () => {
    const document = {
      timeZone: 'UTC',
      panels: [{ id: 'panel' }],
      units: [{ id: 'unit-1', panel: 'panel', points: [{ signal: 'cooling-call' }] }],
    };
    const put = await ask('/api/sites/rowan', { method: 'PUT', body: JSON.stringify(document) });
    expect(put.status).toBe(201);
    const gateway = await connectAsync(broker.url);
    await vi.waitUntil(async () => (await subscribers()) === 2);
    await gateway.publishAsync('holdoff/rowan/unit-1/cooling-call', JSON.stringify({ t: NOW, v: 1 }), {
      qos: 1,
    });
    await gateway.endAsync();
    const samples = await vi.waitUntil(readSamples);
    expect(samples).toEqual([{ t: NOW, v: 1, q: 'good' }]);
  });

  async function readSamples(): Promise<unknown[] | null> {
    const answer = await ask('/api/samples?site=rowan&device=unit-1&signal=cooling-call');
    const { items } = (await answer.json()) as { items: unknown[] };
    return items.length > 0 ? items : null;
  }

  /** watch marks are written by an ingest that is subscribed */
  async function subscribers(): Promise<number> {
    return (await database.database.many({ name: '', text: 'select from watch_marks' })).length;
  }

  test('all end in order when the engine asks them to', async () => {
    expect(await Promise.all([ingest.stop(), second.stop(), server.stop()])).toEqual([0, 0, 0]);
  });
});
