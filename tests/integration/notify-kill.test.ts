import { setTimeout as delay } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readEscalation, startEscalation } from '../../db/escalations.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { LOCKED_OUT_AT } from '../fixtures/notice-facts.ts';
import { addPerson, addSite, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/**
 * What tells people is killed with SIGKILL at every step of an escalation: before it has looked, somewhere in between, and
 * when the mail has been taken but nobody was told so. No step is lost, and whatever is sent twice is the same message.
 */
let store: FreshDatabase;
let smtp: Smtp;
const children = new Set<Child>();
const people: string[] = [];
const NAMES = ['ann', 'ben', 'cid', 'manager'];

beforeAll(async () => {
  [store, smtp] = await Promise.all([freshDatabase(), startSmtp()]);
  await addSite(store.database, 'pine-ridge');
  for (const name of NAMES) {
    const person = await addPerson(store.database, name);
    await reach(store.database, person, 'e-mail', `${name}@example.org`);
    people.push(person);
  }
  await putDefaultPolicy(store.database, policyOf(people.slice(0, 3), [people[3]!]));
});
afterAll(async () => {
  for (const child of children) await child.kill();
  await smtp.stop();
  await store.drop();
});

async function tell(at: number): Promise<Child> {
  const child = startChild('tests/fixtures/notifier-child.ts', {
    DATABASE_URL: store.url,
    SMTP_URL: smtp.url,
    BEGIN_AT: String(at),
  });
  children.add(child);
  await child.said('It tells.');
  return child;
}

async function kill(child: Child): Promise<void> {
  await child.kill();
  children.delete(child);
}

const ids = () => [...new Set(smtp.mails.map(({ headers }) => headers.get('message-id')!))];
/** longer than the lease of whoever was killed */
const LEASE_OVER = 61e6;

test('killed at each of the seven steps: each is told, none twice with another id', async () => {
  await startEscalation(
    store.database,
    { alarm: 'alarm-1', site: 'pine-ridge', severity: 'major' },
    LOCKED_OUT_AT,
  );
  let kills = 0;
  let at = LOCKED_OUT_AT;
  for (let step = 0; step < 7; step++) {
    const way = step % 3;
    const before = smtp.mails.length;
    if (way === 1) smtp.silences.push(true);
    const victim = await tell(at);
    if (way === 1) await smtp.taken(before + 1);
    if (way === 2) await delay(40);
    await kill(victim);
    kills++;
    const next = await tell(at + LEASE_OVER);
    await expect.poll(() => ids().length).toBe(step + 1);
    // and what came of it is written down, before it goes on
    await expect
      .poll(async () => (await readEscalation(store.database, 'alarm-1'))!.nextPage)
      .toBe(Math.min(step + 1, 6));
    await kill(next);
    kills++;
    at = (await readEscalation(store.database, 'alarm-1'))!.dueAt ?? at;
  }
  const told = ids().map((id) => smtp.mails.find(({ headers }) => headers.get('message-id') === id)!);
  expect(told.map(({ to }) => to.split('@')[0])).toEqual([
    ...['ann', 'ben', 'cid', 'ann', 'ben', 'cid'],
    'manager',
  ]);
  for (const mail of smtp.mails) {
    const first = told.find(({ headers }) => headers.get('message-id') === mail.headers.get('message-id'))!;
    expect([mail.to, mail.text]).toEqual([first.to, first.text]);
  }
  expect((await readEscalation(store.database, 'alarm-1'))!.state).toBe('exhausted');
  console.log(`${kills} kills, ${smtp.mails.length} mails, ${ids().length} messages`);
});
