import { connect, type IClientOptions, type MqttClient } from 'mqtt';
import { afterEach, beforeEach, describe, expect, test, vi } from 'vitest';
import { MOSQUITTO_IS_MISSING, startMosquitto, type Mosquitto } from '../fixtures/mosquitto.ts';

/**
 * The broker's settings as docker-compose.yml mounts them, run by a real Mosquitto. What the comments in
 * mosquitto.conf promise is what is tested.
 */
const TOPIC = 'holdoff/school/unit-1/cooling-call';
const DURABLE: IClientOptions = { clientId: 'ingest', clean: false };

describe.skipIf(MOSQUITTO_IS_MISSING)('mosquitto.conf', () => {
  let broker: Mosquitto;
  const clients: MqttClient[] = [];

  beforeEach(async () => {
    broker = await startMosquitto();
  });
  afterEach(async () => {
    await Promise.all(clients.splice(0).map((client) => client.endAsync(true)));
    await broker.stop();
  });

  test('an ingest that is away loses nothing: 3,000 messages wait, where the default would drop two thirds', async () => {
    await leaveSession();
    await publish(3000);
    expect(await received(3000)).toEqual(numbers(3000));
  });

  test('what a gateway saw acknowledged survives the death of the broker', async () => {
    await leaveSession();
    await publish(200);
    await broker.kill();
    await broker.restart();
    expect(await received(200)).toEqual(numbers(200));
  });

  test('a message beyond the bound is never acknowledged, and the next one is taken', async () => {
    const subscriber = await connected(DURABLE);
    await subscriber.subscribeAsync(TOPIC, { qos: 1 });
    const first = event(subscriber, 'message');
    const gateway = await connected({ clientId: 'gateway' });
    const closed = event(gateway, 'close');
    const acknowledged = vi.fn();
    gateway.on('packetreceive', acknowledged);
    gateway.on('error', () => {});
    gateway.publish(TOPIC, Buffer.alloc(3 * 1024 * 1024), { qos: 1 });
    await closed;
    expect(acknowledged).not.toHaveBeenCalled();
    await publish(1);
    expect(String((await first)[1])).toBe('0');
  });

  /** subscribes durably and goes away */
  async function leaveSession(): Promise<void> {
    const subscriber = await connected(DURABLE);
    await subscriber.subscribeAsync(TOPIC, { qos: 1 });
    await subscriber.endAsync();
  }

  /** comes back only when every message was acknowledged */
  async function publish(count: number): Promise<void> {
    const gateway = await connected({ clientId: 'gateway' });
    await Promise.all(numbers(count).map((value) => gateway.publishAsync(TOPIC, value, { qos: 1 })));
    await gateway.endAsync();
  }

  /** what the durable session is given when it comes back, in order and each once */
  function received(count: number): Promise<string[]> {
    const seen = new Set<string>();
    const client = begin(DURABLE);
    return new Promise((resolve) => {
      client.on('message', (_, payload) => {
        if (seen.add(String(payload)).size === count) resolve([...seen]);
      });
    });
  }

  async function connected(options: IClientOptions): Promise<MqttClient> {
    const client = begin(options);
    await event(client, 'connect');
    return client;
  }

  function begin(options: IClientOptions): MqttClient {
    const client = connect(broker.url, { reconnectPeriod: 0, ...options });
    clients.push(client);
    return client;
  }
});

const numbers = (count: number): string[] => Array.from({ length: count }, (_, i) => String(i));

/** the arguments of the next such event; an `error` before it doesn't count against it */
const event = (client: MqttClient, name: 'connect' | 'close' | 'message'): Promise<unknown[]> =>
  new Promise((resolve) => client.once(name, (...given: unknown[]) => resolve(given)));
