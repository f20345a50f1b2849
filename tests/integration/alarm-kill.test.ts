import { setTimeout as delay } from 'node:timers/promises';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { statement } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { startChild, type Child } from '../fixtures/child.ts';
import { commit, putDocument } from '../fixtures/follow-store.ts';
import { freePort } from '../fixtures/mosquitto.ts';
import { addPerson, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/**
 * A whole server is killed with SIGKILL again and again while lockouts come: between fold, decision, escalation and mail,
 * wherever that strikes. Each lockout is raised once, escalated once and told under one id.
 */
const KILLS = 4;
const SITES = Array.from({ length: 2 * KILLS }, (_, n) => `school-${n + 1}`);
const NOW = Math.floor(Date.now() / 1000);
const at = (second: number): Instant => seconds(NOW + second);
let store: FreshDatabase;
let smtp: Smtp;
let child: Child | null = null;

beforeAll(async () => {
  [store, smtp] = await Promise.all([freshDatabase(), startSmtp()]);
  const ann = await addPerson(store.database, 'ann');
  await reach(store.database, ann, 'e-mail', 'ann@example.org');
  const policy = policyOf([ann], [ann]);
  for (const site of SITES)
    await putDocument(store.database, site, {
      name: site,
      timeZone: 'America/Chicago',
      gateways: [{ id: 'gateway' }],
      panels: [{ id: 'panel-a' }],
      units: [{ id: 'unit-1', panel: 'panel-a', points: POINTS }],
    });
  await putDefaultPolicy(store.database, {
    ...policy,
    steps: policy.steps.map((step) => ({ ...step, waitSeconds: 3600 })),
    night: { ...policy.night, alwaysAtOnce: true },
  });
});
afterAll(async () => {
  await child?.kill();
  await smtp.stop();
  await store.drop();
});

async function serve(): Promise<Child> {
  const port = String(await freePort());
  const started = startChild('server/serve.ts', {
    DATABASE_URL: store.url,
    PORT: port,
    SMTP_URL: smtp.url,
    MAIL_FROM: 'holdoff@example.org',
  });
  child = started;
  await started.said(`The server is at http://127.0.0.1:${port}/`);
  return started;
}

const POINTS = ['control-voltage', 'cooling-call', 'compressor-output', 'lockout-alarm'].map((signal) => ({
  signal,
  reporting: { mode: 'on-change' },
}));

/** Ids of the messages about each site's lockout. That it leaves the room short may be known a moment later: told as worse. */
function toldAbout({ mails }: Smtp): ReadonlyMap<string, ReadonlySet<string>> {
  const about = new Map<string, Set<string>>();
  for (const { headers } of mails) {
    const subject = headers.get('subject')!;
    if (subject.startsWith('Worse: ')) continue;
    const site = subject.split(',')[0]!;
    about.set(site, (about.get(site) ?? new Set()).add(headers.get('message-id')!));
  }
  return about;
}

async function lockOut(site: string): Promise<void> {
  const values = [
    [-600, { 'control-voltage': 26, 'cooling-call': 1, 'compressor-output': 1, 'lockout-alarm': 0 }],
    [-60, { 'compressor-output': 0, 'lockout-alarm': 1 }],
    [-1, { 'control-voltage': 26.1 }],
  ] as const;
  const messages = values.map(([second, signals]) => ({
    gateway: 'gateway',
    rows: Object.entries(signals).map(([signal, value]) => ({
      key: `unit-1/${signal}`,
      t: at(second),
      value,
    })),
  }));
  await commit(store.database, site, messages, [{ from: at(-700), to: at(0) }]);
}

const RAISED = statement(
  '',
  `select c.site, count(*) as count from alarm_changes c join alarms a on a.id = c.alarm_id
   where a.rule = 'hard-lockout' and c.what like 'raised%' group by c.site order by c.site`,
);
const OPEN = statement(
  '',
  `select count(*) as count from escalations e join alarms a on a.id = e.alarm where a.rule = 'hard-lockout' and e.next_page = 1`,
);

test(`killed ${KILLS} times while ${SITES.length} lockouts come: each is raised once, none is lost, none told under another id`, async () => {
  for (let round = 0; round < KILLS; round++) {
    const victim = await serve();
    const some = SITES.slice(round * 2, round * 2 + 2);
    await Promise.all([...some.map(lockOut), delay(100 + round * 120)]);
    await victim.kill();
  }
  await serve();
  const opened = async () => (await store.database.one<{ count: number }>(OPEN)).count;
  await expect.poll(opened, { timeout: 300_000, interval: 200 }).toBe(SITES.length);
  const ids = () => [...toldAbout(smtp)].reduce((sum, [, own]) => sum + own.size, 0);
  // whoever was killed while it sent has left its row under a lease of a minute
  await expect.poll(ids, { timeout: 300_000, interval: 200 }).toBe(SITES.length);
  const raised = await store.database.many<{ site: string; count: number }>(RAISED);
  expect(raised).toEqual(SITES.toSorted().map((site) => ({ site, count: 1 })));
  expect([...toldAbout(smtp)].filter(([, own]) => own.size !== 1)).toEqual([]);
  console.log(`${KILLS} kills, ${SITES.length} lockouts, ${smtp.mails.length} mails, ${ids()} messages`);
});
