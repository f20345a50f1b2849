import { afterAll, beforeAll, beforeEach, expect, test } from 'vitest';
import { readChannel } from '../../db/channels.ts';
import { startEscalation, stopEscalation } from '../../db/escalations.ts';
import { readDeliveries } from '../../db/notices.ts';
import { readPushKey } from '../../db/push-keys.ts';
import { statement } from '../../db/pool.ts';
import { deliverOne, type Sender } from '../../server/notify/deliver.ts';
import { takeEscalation, type Decider } from '../../server/notify/take-escalation.ts';
import { freshPushKey, makeSender } from '../../server/notify/vapid.ts';
import { makeWebPush } from '../../server/notify/web-push.ts';
import { LOCKED_OUT_AT, LOCKOUT_FACTS } from '../fixtures/notice-facts.ts';
import { addPerson, addSite, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { startPushService, type Device, type PushService } from '../fixtures/push-service.ts';

/** From a root alarm to what a device reads, through a push service on loopback, on a clock that the test owns. */
let store: FreshDatabase;
let service: PushService;
let device: Device;
let decider: Decider;
let sender: Sender;
let ann: string;
let channel: string;
let now = LOCKED_OUT_AT;
const ROOT = { alarm: 'alarm-1', site: 'pine-ridge', severity: 'major' as const };

beforeAll(async () => {
  [store, service] = await Promise.all([freshDatabase(), startPushService()]);
  const clock = () => now;
  decider = {
    database: store.database,
    now: clock,
    readFacts: () => Promise.resolve(LOCKOUT_FACTS),
    linkKey: Buffer.alloc(32, 7),
    publicUrl: 'https://holdoff.example.org/',
  };
  const own = makeSender(freshPushKey(), 'mailto:holdoff@example.org');
  const push = makeWebPush({ sender: own, now: clock, isLocal: true });
  sender = { database: store.database, channels: { 'web-push': push }, now: clock, dice: () => 0 };
  await addSite(store.database, 'pine-ridge');
  ann = await addPerson(store.database, 'ann');
  await putDefaultPolicy(store.database, policyOf([ann], []));
});
afterAll(async () => {
  await service.stop();
  await store.drop();
});
beforeEach(async () => {
  for (const table of ['escalations', 'deliveries', 'channels'])
    await store.database.run(statement('', `delete from ${table}`));
  [service.heard.length, service.replies.length, now] = [0, 0, LOCKED_OUT_AT];
  device = await service.device();
  const { p256dh, auth } = device.keys;
  channel = await reach(store.database, ann, 'web-push', device.endpoint, `${p256dh}.${auth}`);
});

async function settle(): Promise<void> {
  while (await takeEscalation(decider));
  while (await deliverOne(sender));
}
const texts = () => device.waiting.map(({ text }) => JSON.parse(text) as Record<string, unknown>);
const newest = async () => (await readDeliveries(store.database, { alarm: 'alarm-1', person: ann }, 1))[0];

test('a page is read by the device alone; what follows of the same notice takes its place', async () => {
  await startEscalation(store.database, ROOT, now);
  await settle();
  expect(texts()).toMatchObject([{ title: 'Pine Ridge U2 hard lockout', alarm: 'alarm-1', insists: true }]);
  expect(texts()[0]!['body']).toMatch(/^02:38, high press\. U1 cooling\./);
  expect(texts()[0]!['body']).not.toContain('http');
  const { headers, claims } = service.heard[0]!;
  expect(headers).toMatchObject({ ttl: '86400', urgency: 'high', 'content-encoding': 'aes128gcm' });
  expect(headers['topic']).toMatch(/^[\w-]{22}$/);
  expect(claims).toMatchObject({ sub: 'mailto:holdoff@example.org' });
  expect(await newest()).toMatchObject({ state: 'accepted', answer: '201 Created' });
  await stopEscalation(store.database, { alarm: 'alarm-1', why: 'cleared', cleared: true }, now);
  await settle();
  expect(texts()).toHaveLength(1);
  expect(texts()[0]).toMatchObject({ insists: false });
  expect(texts()[0]!['body']).toContain('Cleared');
  expect(service.heard[1]!.headers).toMatchObject({ urgency: 'normal', topic: headers['topic'] });
});

test.each([429, 500, 503])('%d: tried again, and the device hears it once', async (status) => {
  service.replies.push(status);
  await startEscalation(store.database, ROOT, now);
  await settle();
  expect(await newest()).toMatchObject({ state: 'waiting', attempts: 1, dueAt: now + 5e6 });
  now += 5e6;
  await settle();
  expect(await newest()).toMatchObject({ state: 'accepted', attempts: 2 });
  expect(texts()).toHaveLength(1);
});

test.each([404, 410])('%d: the subscription is gone, and the channel is disabled', async (status) => {
  service.replies.push(status);
  await startEscalation(store.database, ROOT, now);
  await settle();
  expect(await newest()).toMatchObject({ state: 'given-up' });
  const kept = await readChannel(store.database, channel);
  expect(kept!.disabledAt).toBe(now);
  expect(kept!.disabledWhy).toMatch(new RegExp(`^${status} `));
});

test('403: this message never will, and the channel stays', async () => {
  service.replies.push(403);
  await startEscalation(store.database, ROOT, now);
  await settle();
  expect(await newest()).toMatchObject({ state: 'given-up', attempts: 1 });
  expect((await readChannel(store.database, channel))!.disabledAt).toBeNull();
});

test('an address in a private network isn’t called, whatever its name', async () => {
  const guarded = makeWebPush({ sender: makeSender(freshPushKey(), null), now: () => now, isLocal: false });
  await startEscalation(store.database, ROOT, now);
  while (await takeEscalation(decider));
  while (await deliverOne({ ...sender, channels: { 'web-push': guarded } }));
  expect(service.heard).toEqual([]);
  expect((await readChannel(store.database, channel))!.disabledWhy).toMatch(/begin with https/);
});

test('the key is made once, whoever asks first', async () => {
  const keys = await Promise.all([1, 2, 3].map(() => readPushKey(store.database, freshPushKey())));
  expect(new Set(keys.map((key) => key.toString('hex'))).size).toBe(1);
});
