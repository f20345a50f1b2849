import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { readChannel } from '../../db/channels.ts';
import {
  changeEscalation,
  ownEscalation,
  readEscalation,
  startEscalation,
  stopEscalation,
} from '../../db/escalations.ts';
import { readDeliveries } from '../../db/notices.ts';
import { statement } from '../../db/pool.ts';
import { deliverOne, type Sender } from '../../server/notify/deliver.ts';
import { makeMail } from '../../server/notify/mail.ts';
import { filled, inJson, makeShortMessage, makeVoice } from '../../server/notify/short-message.ts';
import { takeEscalation, type Decider } from '../../server/notify/take-escalation.ts';
import { makeWebhook, signWebhook } from '../../server/notify/webhook.ts';
import { startHook, type Hook } from '../fixtures/hook.ts';
import { LOCKED_OUT_AT, LOCKOUT_FACTS } from '../fixtures/notice-facts.ts';
import { addPerson, addSite, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/** From a root alarm to messages, on a real database, SMTP server and webhook receiver, with a clock that the test owns. */
const MINUTE = 60e6;
let store: FreshDatabase;
let smtp: Smtp;
let hook: Hook;
let now = LOCKED_OUT_AT;
let decider: Decider;
let sender: Sender;
const people: Record<string, string> = {};
let facts = LOCKOUT_FACTS;

beforeAll(async () => {
  [store, smtp, hook] = await Promise.all([freshDatabase(), startSmtp(), startHook()]);
  const clock = () => now;
  decider = {
    database: store.database,
    now: clock,
    readFacts: () => Promise.resolve(facts),
    linkKey: Buffer.alloc(32, 7),
    publicUrl: 'https://holdoff.example.org/',
  };
  sender = {
    database: store.database,
    channels: {
      'e-mail': makeMail({ url: smtp.url, from: 'Holdoff <holdoff@example.org>', ca: null }),
      webhook: makeWebhook(clock),
    },
    now: clock,
    dice: () => 0,
  };
  await addSite(store.database, 'pine-ridge');
  for (const name of ['ann', 'ben', 'cid', 'manager']) {
    people[name] = await addPerson(store.database, name);
    await reach(store.database, people[name], 'e-mail', `${name}@example.org`);
  }
  await putDefaultPolicy(
    store.database,
    policyOf([people['ann']!, people['ben']!, people['cid']!], [people['manager']!]),
  );
});

afterAll(async () => {
  for (const channel of Object.values(sender.channels)) await channel.close();
  await Promise.all([smtp.stop(), hook.stop()]);
  await store.drop();
});

beforeEach(async () => {
  await store.database.run(statement('', 'delete from escalations'));
  await store.database.run(statement('', 'delete from deliveries'));
  await store.database.run(statement('', `delete from channels where kind <> 'e-mail'`));
  smtp.mails.length = 0;
  smtp.refusals.length = 0;
  hook.heard.length = 0;
  hook.replies.length = 0;
  now = LOCKED_OUT_AT;
  facts = LOCKOUT_FACTS;
});

const ROOT = { alarm: 'alarm-1', site: 'pine-ridge', severity: 'major' as const };

/** everything that is due at this moment */
async function settle(): Promise<void> {
  while (await takeEscalation(decider));
  while (await deliverOne(sender));
}

async function eachMinute(from: number, to: number): Promise<void> {
  for (let minute = from; minute <= to; minute++) {
    now = LOCKED_OUT_AT + minute * MINUTE;
    await settle();
  }
}

const got = () =>
  smtp.mails.map(({ to, headers }) => `${to.split('@')[0]}: ${headers.get('subject')!.split(':')[0]}`);

describe('an escalation', () => {
  // handbook 7: 5/5/10 min, repeat 1, no answer: pages at 0, 5, 10, 20, 25, 30 min, then "exhausted" and the fallback
  test('pages at 0, 5, 10, 20, 25, 30 min, then tells the fallback that nobody answered', async () => {
    await startEscalation(store.database, ROOT, now);
    const times: number[] = [];
    for (let minute = 0; minute <= 45; minute++) {
      const before = smtp.mails.length;
      await eachMinute(minute, minute);
      if (smtp.mails.length > before) times.push(minute);
    }
    expect(times).toEqual([0, 5, 10, 20, 25, 30, 40]);
    expect(smtp.mails.map(({ to }) => to.split('@')[0])).toEqual([
      ...['ann', 'ben', 'cid', 'ann', 'ben', 'cid'],
      'manager',
    ]);
    expect((await readEscalation(store.database, 'alarm-1'))!.state).toBe('exhausted');
    expect(smtp.mails[6]!.text.split('\n')[0]).toMatch(/^Everybody was asked and nobody has answered\./);
  });

  test('is one notice a person: its messages stand together, each with an id of its own', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 30);
    const ofAnn = smtp.mails.filter(({ to }) => to.startsWith('ann'));
    expect(ofAnn).toHaveLength(2);
    expect(new Set(ofAnn.map(({ headers }) => headers.get('references'))).size).toBe(1);
    expect(new Set(smtp.mails.map(({ headers }) => headers.get('message-id'))).size).toBe(6);
    expect(ofAnn[0]!.headers.get('auto-submitted')).toBe('auto-generated');
    expect(ofAnn[1]!.text).toMatch(/^Nobody has answered yet\. Go now: 35 °C between 03:38 and 04:00\./);
  });

  test('stops in the transaction that accepts it; what waits is overtaken, and the others hear who has it', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 5);
    smtp.refusals.push(451);
    await eachMinute(10, 10); // cid's mail can't be handed over yet
    await ownEscalation(store.database, { alarm: 'alarm-1', owner: people['ben']!, place: 'accepted' }, now);
    await eachMinute(11, 30);
    expect(got()).toEqual(['ann: Pine Ridge, U2', 'ben: Pine Ridge, U2', 'ann: Taken', 'cid: Taken']);
    const states = (
      await readDeliveries(store.database, { alarm: 'alarm-1', person: people['cid']! }, 10)
    ).map(({ reason, state }) => `${reason} ${state}`);
    expect(states).toEqual(['taken accepted', 'page overtaken']);
  });

  test('asks an owner who takes no next step, and begins again behind whoever was asked last', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 0);
    const owner = people['ann']!;
    await ownEscalation(store.database, { alarm: 'alarm-1', owner, place: 'accepted' }, now);
    // needed in an hour: the earlier of 30 min and half of it
    await eachMinute(1, 29);
    expect(got()).toEqual(['ann: Pine Ridge, U2']);
    await eachMinute(30, 34);
    expect(got().slice(1)).toEqual(['ann: Still on it? Pine Ridge, U2']);
    await eachMinute(35, 35);
    expect(got().slice(2)).toEqual(['ben: Pine Ridge, U2']);
    expect((await readEscalation(store.database, 'alarm-1'))!.owner).toBe(null);
  });

  test('asks after two hours on site, and tells the next person five minutes later', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 0);
    const owner = people['ann']!;
    await ownEscalation(store.database, { alarm: 'alarm-1', owner, place: 'on-site' }, now);
    await eachMinute(119, 119);
    expect(got()).toHaveLength(1);
    await eachMinute(120, 125);
    expect(got().slice(1)).toEqual(['ann: Are you all right? Pine Ridge, U2', 'ben: Alone on site']);
  });

  test('held by night until seven, and paged at once when it can’t wait any more', async () => {
    facts = { ...facts, needsBy: { kind: 'not-needed', says: 'U1 carries it' } };
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 30);
    expect(got()).toEqual([]);
    expect((await readEscalation(store.database, 'alarm-1'))!.state).toBe('held');
    facts = LOCKOUT_FACTS;
    await changeEscalation(store.database, { alarm: 'alarm-1', severity: 'critical', cleared: false }, now);
    await eachMinute(31, 31);
    expect(got()).toEqual(['ann: Pine Ridge, U2']);
  });

  test('held by night: at seven it is paged', async () => {
    facts = { ...facts, needsBy: { kind: 'not-needed', says: 'U1 carries it' } };
    await startEscalation(store.database, ROOT, now);
    await settle();
    now = LOCKED_OUT_AT + 4 * 60 * MINUTE + 22 * MINUTE;
    await settle();
    expect(got()).toEqual(['ann: Pine Ridge, U2']);
  });

  test('worse in between: those who know are told, and the next page keeps its time', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 2);
    await changeEscalation(store.database, { alarm: 'alarm-1', severity: 'critical', cleared: false }, now);
    await eachMinute(3, 4);
    expect(got()).toEqual(['ann: Pine Ridge, U2', 'ann: Worse']);
    await eachMinute(5, 5);
    expect(got().slice(2)).toEqual(['ben: Pine Ridge, U2']);
  });

  test('cleared: everybody who was told is told that, once; one that was shelved ends in silence', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 5);
    await stopEscalation(store.database, { alarm: 'alarm-1', why: 'cleared', cleared: true }, now);
    await eachMinute(6, 30);
    expect(got().slice(2).sort()).toEqual(['ann: Cleared', 'ben: Cleared']);
    await startEscalation(store.database, { ...ROOT, alarm: 'alarm-2' }, now);
    await stopEscalation(store.database, { alarm: 'alarm-2', why: 'shelved', cleared: false }, now);
    await eachMinute(31, 60);
    expect(got()).toHaveLength(4);
  });

  test('an hour in which nobody looked: one page, no burst', async () => {
    await startEscalation(store.database, ROOT, now);
    await eachMinute(0, 3);
    await eachMinute(63, 63);
    expect(got()).toEqual(['ann: Pine Ridge, U2', 'cid: Pine Ridge, U2']);
  });

  test('the clock set back by two hours: the next page comes after what was left of its wait', async () => {
    await startEscalation(store.database, ROOT, now);
    await settle();
    now = LOCKED_OUT_AT - 120 * MINUTE;
    await settle();
    now += 4 * MINUTE;
    await settle();
    expect(got()).toHaveLength(1);
    now += MINUTE;
    await settle();
    expect(got().slice(1)).toEqual(['ben: Pine Ridge, U2']);
  });
});

describe('mail', () => {
  test('a reply of 4xx is tried again with the same id; of 5xx never', async () => {
    smtp.refusals.push(451, 451);
    await startEscalation(store.database, ROOT, now);
    await settle();
    const [waiting] = await readDeliveries(store.database, { alarm: 'alarm-1', person: null }, 5);
    expect(waiting).toMatchObject({ state: 'waiting', attempts: 1, dueAt: now + 5e6 });
    now += 5e6;
    await settle();
    now += 15e6;
    await settle();
    expect(smtp.mails).toHaveLength(1);
    const [accepted] = await readDeliveries(store.database, { alarm: 'alarm-1', person: null }, 5);
    expect(accepted).toMatchObject({ state: 'accepted', attempts: 3 });
    expect(accepted!.answer).toMatch(/^250/);
    smtp.refusals.push(550);
    await eachMinute(5, 5);
    const [refused] = await readDeliveries(store.database, { alarm: 'alarm-1', person: people['ben']! }, 5);
    expect(refused).toMatchObject({ state: 'given-up', attempts: 1 });
  });

  test('whoever dies while sending leaves the row, and it goes again with the same id', async () => {
    await startEscalation(store.database, ROOT, now);
    while (await takeEscalation(decider));
    const dying: Sender = {
      ...sender,
      channels: {
        'e-mail': {
          send: async (message) => {
            await sender.channels['e-mail']!.send(message);
            throw new Error('killed behind the hand-over');
          },
          close: () => Promise.resolve(),
        },
      },
    };
    await expect(deliverOne(dying)).rejects.toThrow('killed');
    expect(await deliverOne(sender)).toBe(null); // still leased
    now += 60e6;
    await settle();
    expect(smtp.mails).toHaveLength(2);
    expect(new Set(smtp.mails.map(({ headers }) => headers.get('message-id'))).size).toBe(1);
    expect(smtp.mails[0]!.text).toBe(smtp.mails[1]!.text);
  });
});

describe('webhooks', () => {
  // Standard Webhooks, published vector
  test('are signed as the published vector', () => {
    expect(
      signWebhook({
        secret: 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw',
        id: 'msg_p5jXN8AQM9LWM0D4loKWxJek',
        timestamp: 1614265330,
        body: '{"test": 2432232314}',
      }),
    ).toBe('v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=');
  });

  const SECRET = 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw';

  test('arrive whole, signed over what arrived, and again with the same id after a refusal', async () => {
    const id = await reach(store.database, people['ann']!, 'webhook', hook.url, SECRET);
    hook.replies.push(503);
    await startEscalation(store.database, ROOT, now);
    await settle();
    now += 5e6;
    await settle();
    expect(
      hook.heard.map(({ headers }) => headers['webhook-id']).filter((a, n, all) => a === all[0]),
    ).toHaveLength(2);
    for (const { headers, body } of hook.heard) {
      const timestamp = Number(headers['webhook-timestamp']);
      const signed = signWebhook({ secret: SECRET, id: headers['webhook-id'] as string, timestamp, body });
      expect(headers['webhook-signature']).toBe(signed);
    }
    expect(JSON.parse(hook.heard[1]!.body)).toMatchObject({
      type: 'alarm.page',
      data: { alarm: 'alarm-1', site: 'pine-ridge', device: 'u2', kind: 'hard-lockout', urgency: 'go-now' },
    });
    expect((await readChannel(store.database, id))!.disabledAt).toBe(null);
  });

  test('410 disables the channel; a redirection isn’t followed', async () => {
    const id = await reach(store.database, people['ann']!, 'webhook', hook.url, SECRET);
    hook.replies.push(302, 410);
    await startEscalation(store.database, ROOT, now);
    await settle();
    expect(hook.heard).toHaveLength(1);
    now += 5e6;
    await settle();
    expect(await readChannel(store.database, id)).toMatchObject({ disabledAt: now, disabledWhy: '410 Gone' });
  });

  test('given up after the table’s last wait; five in a row disable the channel', async () => {
    const id = await reach(store.database, people['ann']!, 'webhook', hook.url, SECRET);
    for (let round = 0; round < 5; round++) {
      await startEscalation(store.database, { ...ROOT, alarm: `alarm-${round}` }, now);
      hook.replies.push(...Array.from({ length: 9 }, () => 500));
      while (await takeEscalation(decider));
      await store.database.run(statement('', 'update escalations set due_at = null'));
      const before = hook.heard.length;
      for (const wait of [0, 5, 15, 60, 300, 900, 3600, 3 * 3600, 8 * 3600, 86_400]) {
        now += wait * 1e6;
        while (await deliverOne(sender));
      }
      expect(hook.heard.length - before).toBe(9);
    }
    const channel = await readChannel(store.database, id);
    expect(channel!.disabledWhy).toBe('5 messages in a row were given up: 500 Internal Server Error');
  });
});

test('a short message fills the gateway’s template, whatever it holds', async () => {
  const values = { to: '+15550100', text: 'a "b" & c\n', id: 'x' };
  expect(filled('https://g.example/?to={to}&text={text}', values, encodeURIComponent)).toBe(
    'https://g.example/?to=%2B15550100&text=a%20%22b%22%20%26%20c%0A',
  );
  expect(JSON.parse(filled('{"to":"{to}","text":"{text}"}', values, inJson))).toEqual({
    to: '+15550100',
    text: values.text,
  });
  const gateway = makeShortMessage({
    url: `${hook.url}?to={to}`,
    body: '{"text":"{text}","id":"{id}"}',
    authorization: 'Bearer secret',
  });
  await reach(store.database, people['ann']!, 'short-message', '+15550100');
  await startEscalation(store.database, ROOT, now);
  while (await takeEscalation(decider));
  const both = { ...sender, channels: { ...sender.channels, 'short-message': gateway } };
  while (await deliverOne(both));
  await gateway.close();
  expect(hook.heard[0]!.url).toBe('/?to=%2B15550100');
  expect(hook.heard[0]!.headers['authorization']).toBe('Bearer secret');
  const { text } = JSON.parse(hook.heard[0]!.body) as { text: string };
  expect(text).toMatch(
    /^Pine Ridge U2 hard lockout 02:38, high press\. U1 cooling\. Go now: .* Accept: https:/,
  );
  expect(text.length).toBeLessThanOrEqual(160);
});

test('a call is what the gateway’s template makes of the spoken text', async () => {
  const gateway = makeVoice({
    url: hook.url,
    body: '{"number":"{to}","say":"{text}","id":"{id}"}',
    authorization: 'Bearer secret',
  });
  await reach(store.database, people['ann']!, 'voice', '+15550100');
  await startEscalation(store.database, ROOT, now);
  while (await takeEscalation(decider));
  hook.replies.push(503);
  const both = { ...sender, channels: { ...sender.channels, voice: gateway } };
  while (await deliverOne(both));
  now += 5e6;
  while (await deliverOne(both));
  await gateway.close();
  const [first, again] = hook.heard.map(({ body }) => JSON.parse(body) as Record<string, string>);
  expect(first).toEqual(again); // the same call, known by its id
  expect(first!['number']).toBe('+15550100');
  expect(first!['say']).toBe(
    'Holdoff calls. Pine Ridge, U 2: Hard lockout, probably high pressure. Since two thirty-eight in the morning. ' +
      'Go now: 35 degrees Celsius between three thirty-eight in the morning and four o’clock in the morning. ' +
      'Still cooling: U 1. To accept, open the page or the link in your message. ' +
      'Once more. Pine Ridge, U 2: Hard lockout, probably high pressure.',
  );
});
