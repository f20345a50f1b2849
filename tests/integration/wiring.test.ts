import { mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import mqtt from 'mqtt';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { startIngest, type Ingest } from '../../ingest/start.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { WiringAnswer, type HeardAnswer } from '../../shared/wire/wiring.ts';
import { accept } from '../../shared/wiring/accept.ts';
import { heardValue } from '../../web/src/wiring/heard-value.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import Schema from 'typebox/schema';

/** From a topic that nobody maps to a point that is folded: heard, guessed at, accepted. */
const folder = mkdtempSync(join(tmpdir(), 'holdoff-wiring-'));
const DOCUMENT: SiteDocument = {
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a' }],
  units: [{ id: 'unit-1', panel: 'panel-a' }],
};
let api: ApiServer;
let ingest: Ingest;
let gateway: mqtt.MqttClient;

beforeAll(async () => {
  api = await startApi();
  expect((await api.send('PUT', '/api/sites/elm', DOCUMENT)).status).toBe(201);
  ingest = await startIngest({
    databaseUrl: api.store.url,
    broker: { kind: 'embedded', host: '127.0.0.1', port: 0, folder, mostClients: 10 },
    ...{ id: 'wiring', root: 'holdoff', markSeconds: 0.2, waveformDays: 1 },
    sparkplug: { hostId: 'holdoff', reorderSeconds: 1 },
    observe: () => {},
  });
  gateway = await mqtt.connectAsync(`mqtt://127.0.0.1:${ingest.port}`);
});
afterAll(async () => {
  await gateway?.endAsync();
  await ingest?.stop();
  await api?.stop();
  rmSync(folder, { recursive: true, force: true });
});

/** Publishes anew until it holds: listening begins with the next commit. */
async function heardOf(topic: string, payload: unknown): Promise<HeardAnswer> {
  for (let tries = 0; tries < 200; tries++) {
    await gateway.publishAsync(topic, JSON.stringify(payload), { qos: 1 });
    const { body } = await api.get('/api/sites/elm/wiring');
    const found = (body as WiringAnswer).items.find((one) => one.topic === topic);
    if (found) return found;
    await new Promise((resolve) => setTimeout(resolve, 200));
  }
  throw new Error(`${topic} wasn’t heard`);
}

test('what comes below our own topics is heard without asking, and guessed at by its name', async () => {
  const heard = await heardOf('holdoff/elm/unit-1/cooling-call', 1);
  expect(heard).toMatchObject({
    ...{ form: 'contact', last: '1', ignoredBy: null },
    guess: { signal: 'cooling-call', device: 'unit-1', certainty: 'probable' },
  });
  const [, errors] = Schema.Errors(WiringAnswer, (await api.get('/api/sites/elm/wiring')).body);
  expect(errors).toEqual([]);
});

test('other topics are listened to when somebody asks; accepted, they are a point of the site', async () => {
  await gateway.publishAsync('plant/u1/di/hps', JSON.stringify({ state: 1 }), { qos: 1 });
  expect((await api.send('POST', '/api/listening', { filters: ['holdoff/#'], minutes: 5 })).status).toBe(400);
  expect((await api.send('POST', '/api/listening', { filters: ['#'], minutes: 5 })).status).toBe(400);
  expect((await api.send('POST', '/api/listening', { filters: ['plant/#'], minutes: 5 })).status).toBe(204);
  const heard = await heardOf('plant/u1/di/hps', { ts: '2026-03-02T08:15:00Z', state: 1 });
  expect(heard).toMatchObject({
    ...{ pointer: '/state', time: '/ts', form: 'contact' },
    guess: { signal: 'high-pressure', device: 'unit-1', certainty: 'probable' },
  });
  const proposal = { heard: heardValue(heard), device: 'unit-1', signal: 'high-pressure' as const };
  const { document } = accept((await api.get('/api/sites/elm')).body, [proposal]);
  expect((await api.send('PUT', '/api/sites/elm?from=now', document)).status).toBe(200);
  await gateway.publishAsync('plant/u1/di/hps', JSON.stringify({ ts: new Date().toISOString(), state: 0 }), {
    qos: 1,
  });
  // acknowledged is committed
  const samples = await api.get('/api/samples?site=elm&device=unit-1&signal=high-pressure');
  expect(samples.body.items.at(-1)).toMatchObject({ v: 0, q: 'good' });
  const left = (await api.get('/api/sites/elm/wiring')).body.items as HeardAnswer[];
  expect(left.map(({ topic }) => topic)).toEqual(['holdoff/elm/unit-1/cooling-call']);
});

test('ended, it hears no more there; what is ignored stays so', async () => {
  expect((await api.send('DELETE', '/api/listening')).status).toBe(204);
  const ask = { topic: 'holdoff/elm/unit-1/cooling-call', pointer: '', ignore: true };
  expect((await api.send('POST', '/api/sites/elm/wiring/ignore', ask)).status).toBe(204);
  const answer = (await api.get('/api/sites/elm/wiring')).body as WiringAnswer;
  expect(answer.listening).toBeNull();
  expect(answer.items[0]!.ignoredBy).not.toBeNull();
  expect((await api.send('POST', '/api/sites/elm/wiring/ignore', { ...ask, topic: 'none' })).status).toBe(
    404,
  );
});
