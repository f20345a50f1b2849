import { connectAsync, type MqttClient } from 'mqtt';
import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { startSounder, type Sounder } from '../../server/sounder/sounder.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commit, putDocument } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';

/** A stack light beside somebody’s desk, as it hears of a site on a real broker. */
describe.skipIf(MOSQUITTO_IS_MISSING)('a stack light', () => {
  let api: ApiServer;
  let broker: Mosquitto;
  let sounder: Sounder;
  let light: MqttClient;
  const failures: string[] = [];
  const heard = new Map<string, { text: string; qos: number; retain: boolean }>();

  beforeAll(async () => {
    [api, broker] = await Promise.all([startApi({ sounderRoot: 'lamps' }), startMosquitto()]);
    expect((await api.send('PUT', '/api/sites/rowan', document(210))).status).toBe(201);
    expect((await api.send('PUT', '/api/sites/elm', document(210))).status).toBe(201);
    sounder = start();
    light = await listen();
  });
  afterAll(async () => {
    await light.endAsync();
    await sounder.stop();
    await broker.stop();
    await api.stop();
  });

  const start = () =>
    startSounder({
      database: api.store.database,
      brokerUrl: broker.url,
      root: 'lamps',
      sites: ['rowan', 'listening'],
      failed: (error) => failures.push((error as Error).message),
    });

  async function listen(): Promise<MqttClient> {
    const client = await connectAsync(broker.url);
    client.on('message', (topic, payload, { qos, retain }) =>
      heard.set(topic, { text: payload.toString(), qos, retain }),
    );
    await client.subscribeAsync('#', { qos: 1 });
    return client;
  }
  const shown = () => JSON.parse(heard.get('lamps/rowan/state')?.text || 'null') as { state: string } | null;

  test('shows nothing, then what stands, and whoever connects later hears it at once', async () => {
    await expect.poll(shown).toEqual({ state: 'nothing', stands: [] });
    await commit(
      api.store.database,
      'rowan',
      [...told(rowsOf(LOCKOUT, 900, 0)), ...beats(-900, 0)],
      [{ from: at(-4000), to: at(0) }],
    );
    await expect.poll(() => shown()?.state).toBe('urgent');
    expect(shown()).toMatchObject({
      stands: expect.arrayContaining([
        expect.objectContaining({ device: 'unit-1', severity: 'critical', acknowledged: false }),
      ]),
    });
    heard.clear();
    await light.endAsync();
    light = await listen();
    await expect.poll(() => heard.get('lamps/rowan/state')).toMatchObject({ qos: 1, retain: true });
    expect(heard.get('lamps/alive')).toEqual({ text: '1', qos: 1, retain: true });
    // the other site wasn't asked for, and nothing is published beside the root
    expect([...heard.keys()].sort()).toEqual(['lamps/alive', 'lamps/rowan/state']);
  });

  test('acknowledged it is still true: attention; out of service, nothing', async () => {
    const { items } = (await api.get('/api/alarms')).body as { items: { id: string }[] };
    for (const { id } of items) await api.send('POST', `/api/alarms/${id}/acknowledge`, {});
    await expect.poll(() => shown()?.state).toBe('attention');
    for (const { id } of items)
      await api.send('POST', `/api/alarms/${id}/out-of-service`, { reason: 'the room is empty' });
    await expect.poll(shown).toEqual({ state: 'nothing', stands: [] });
  });

  test('is told again after the broker was away, and that this server has gone', async () => {
    heard.clear();
    await broker.kill();
    await broker.restart();
    await expect.poll(shown).toEqual({ state: 'nothing', stands: [] });
    await sounder.stop();
    await expect.poll(() => heard.get('lamps/alive')?.text).toBe('0');
    sounder = start();
    await expect.poll(() => heard.get('lamps/alive')?.text).toBe('1');
  });

  test('a document with a point that listens there is refused, and one from before isn’t told of', async () => {
    const points = [{ signal: 'outdoor-temperature', source: { topic: 'lamps/+/state', pointer: '/x' } }];
    const { status, body } = await api.send('PUT', '/api/sites/listening', { ...document(210), points });
    expect(status).toBe(422);
    expect(body.faults[0].message).toContain('lamps/+/state');
    await putDocument(api.store.database, 'listening', { ...document(210), points });
    await expect.poll(() => failures).toContainEqual(expect.stringMatching(/^listening: a point listens to/));
    expect(heard.has('lamps/listening/state')).toBe(false);
  });
});
