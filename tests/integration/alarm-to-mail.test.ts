import { afterAll, beforeAll, expect, test } from 'vitest';
import { readEscalation } from '../../db/escalations.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { AlarmAnswer } from '../../shared/wire/alarm-answer.ts';
import { NO_NOTICES } from '../../server/notify/settings.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import type { Script } from '../fixtures/control-run.ts';
import { commit } from '../fixtures/follow-store.ts';
import { addPerson, policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';
import { CALL, HIGH, OUTPUT, recordOf, VOLTAGE } from '../fixtures/unit-record.ts';

/** The whole way: a contact closes, the folds see a lockout, it is an alarm, somebody's mail is handed to SMTP. */
const ROUNDS = 20;
/** issue 3 of 6: contact closes → mail handed to SMTP, p95 below 2 s */
const BOUND_MS = 2_000;
let api: ApiServer;
let smtp: Smtp;
let ann: string;

beforeAll(async () => {
  smtp = await startSmtp();
  api = await startApi({
    notify: {
      ...NO_NOTICES,
      publicUrl: 'https://holdoff.example.org/',
      mail: { url: smtp.url, from: 'Holdoff <holdoff@example.org>', ca: null },
    },
  });
  const { database } = api.store;
  ann = await addPerson(database, 'ann');
  const ben = await addPerson(database, 'ben');
  await reach(database, ann, 'e-mail', 'ann@example.org');
  await reach(database, ben, 'e-mail', 'ben@example.org');
  await putDefaultPolicy(database, policyOf([ann, ben], [ben]));
});
afterAll(async () => {
  await api.stop();
  await smtp.stop();
});

const document = (name: string) => ({
  name,
  timeZone: 'America/Chicago',
  gateways: [{ id: 'gateway', heartbeatSeconds: 30 }],
  panels: [{ id: 'panel-a' }],
  units: [
    {
      id: 'unit-1',
      name: 'Room 12',
      panel: 'panel-a',
      protection: { offDelay: 210 },
      points: [{ ...CALL }, { ...OUTPUT }, { ...VOLTAGE }, { ...HIGH }, { signal: 'lockout-alarm' }],
    },
  ],
});

/** two high-pressure stops in one call */
const LOCKOUT: Script = [
  [100, { call: true }],
  [500, { highPressureOpen: true }],
  [520, { highPressureOpen: false }],
  [800, { highPressureOpen: true }],
];

/** Commits a lockout that happens now; the last contact closes with the second commit. */
async function lockOut(site: string): Promise<void> {
  const now = Math.floor(Date.now() / 1000);
  const at = (second: number): Instant => seconds(now + second);
  expect((await api.send('PUT', `/api/sites/${site}`, document(site))).status).toBe(201);
  const rows = recordOf(LOCKOUT, { offDelay: 210 }, 10).filter((row) => row.t <= seconds(805));
  const shifted = rows.map((row) => ({ ...row, t: at(-805) + row.t }));
  const lives = Array.from({ length: 41 }, (_, n) => ({
    gateway: 'gateway',
    rows: [],
    life: at(-805 + 20 * n),
  }));
  const last = at(-6);
  const messages = shifted.map((row) => ({ gateway: 'gateway', rows: [row] }));
  const watched = [{ from: at(-4000), to: at(0) }];
  await commit(
    api.store.database,
    site,
    [...messages.filter(({ rows: [row] }) => row!.t < last), ...lives],
    watched,
  );
  await expect.poll(async () => (await api.get(`/api/inference?site=${site}`)).body.pending).toBe(0);
  const rest = messages.filter(({ rows: [row] }) => row!.t >= last);
  await commit(api.store.database, site, [...rest, { gateway: 'gateway', rows: [], life: at(0) }], watched);
}

test(`a contact closes and mail is handed over: 95 of 100 within ${BOUND_MS} ms`, async () => {
  const waits: number[] = [];
  for (let round = 0; round < ROUNDS; round++) {
    const site = `shelter-${round}`;
    const committed = lockOut(site).then(() => performance.now());
    const mail = await smtp.first(({ headers }) => headers.get('subject')!.startsWith(`${site},`));
    waits.push(mail.at - (await committed));
  }
  waits.sort((a, b) => a - b);
  const p95 = waits[Math.ceil(waits.length * 0.95) - 1]!;
  const median = waits[Math.floor(waits.length / 2)]!;
  console.log(
    `contact committed → mail handed to SMTP, ${ROUNDS} lockouts: median ${median.toFixed(0)} ms, p95 ${p95.toFixed(0)} ms, most ${waits.at(-1)!.toFixed(0)} ms`,
  );
  expect(p95).toBeLessThan(BOUND_MS);
  const { text, headers } = smtp.mails[0]!;
  expect(headers.get('subject')).toMatch(/^shelter-0, Room 12: Hard lockout/);
  expect(text).toMatch(/^Go now: how long there is can’t be told/);
  expect(text).toContain('high pressure');
  // one lockout, one mail: what it explains, and that it leaves the room short, make no other
  expect(smtp.mails).toHaveLength(ROUNDS);
});

test('the link in the mail acknowledges the alarm, and nobody else is called', async () => {
  const [alarm] = (await api.get('/api/alarms?site=shelter-0&state=B')).body.items as AlarmAnswer[];
  const link = /https:\/\/holdoff\.example\.org(\/a\/\S+)/.exec(smtp.mails[0]!.text)![1]!;
  const form = { 'content-type': 'application/x-www-form-urlencoded', 'sec-fetch-site': 'same-origin' };
  expect((await api.get(link)).body).toContain('<button>Accept</button>');
  expect((await api.get(`/api/alarms/${alarm!.id}`)).body.state).toBe('B');
  const pressed = await api.send('POST', link, '', form);
  expect([pressed.status, pressed.body]).toEqual([200, expect.stringContaining('It is yours')]);
  expect((await api.get(`/api/alarms/${alarm!.id}`)).body).toMatchObject({ state: 'C', owner: 'ann' });
  expect(await readEscalation(api.store.database, alarm!.id)).toMatchObject({
    state: 'owned',
    owner: ann,
    place: 'accepted',
  });
  expect((await api.send('POST', link, '', form)).body).toContain('It is yours');
  const audit = (await api.get('/api/audit')).body.items as { action: string; actor: object }[];
  expect(audit.find(({ action }) => action === 'accept-by-link')!.actor).toMatchObject({
    kind: 'person',
    id: ann,
  });
});

test('on site and left are steps of whoever has it; before it is accepted there is none to take', async () => {
  const [alarm] = (await api.get('/api/alarms?site=shelter-0&state=C')).body.items as AlarmAnswer[];
  const step = (id: string, name: string) => api.send('POST', `/api/alarms/${id}/step`, { step: name });
  expect((await step(alarm!.id, 'on-site')).body).toMatchObject({ place: 'on-site', owner: 'this machine' });
  const asked = (await readEscalation(api.store.database, alarm!.id))!;
  // two hours on site, then the owner is asked (handbook 7, working alone)
  await expect
    .poll(async () => (await readEscalation(api.store.database, alarm!.id))!.dueAt! - asked.ownedSince!)
    .toBe(7200e6);
  // on leaving, what is still true is raised anew (handbook 7, work in progress)
  expect((await step(alarm!.id, 'left')).body).toMatchObject({ state: 'paging', owner: null, place: null });
  expect((await api.get(`/api/alarms/${alarm!.id}`)).body.state).toBe('B');
  const [open] = (await api.get('/api/alarms?site=shelter-3&state=B')).body.items as AlarmAnswer[];
  expect((await step(open!.id, 'on-site')).status).toBe(409);
  expect((await step('none', 'on-site')).status).toBe(404);
});

test('acknowledging on the page stops it with the same commit', async () => {
  const [alarm] = (await api.get('/api/alarms?site=shelter-1&state=B')).body.items as AlarmAnswer[];
  await api.send('POST', `/api/alarms/${alarm!.id}/acknowledge`, {});
  expect(await readEscalation(api.store.database, alarm!.id)).toMatchObject({
    state: 'owned',
    owner: 'this machine',
  });
  const { body } = await api.get('/api/on-call');
  expect(body.escalations.find((one: { alarm: string }) => one.alarm === alarm!.id)).toMatchObject({
    state: 'owned',
    site: 'shelter-1',
  });
});

test('shelved: nobody is told any more', async () => {
  const [alarm] = (await api.get('/api/alarms?site=shelter-2&state=B')).body.items as AlarmAnswer[];
  const shelved = await api.send('POST', `/api/alarms/${alarm!.id}/shelve`, { reason: 'parts', minutes: 60 });
  expect(shelved.status).toBe(200);
  expect(await readEscalation(api.store.database, alarm!.id)).toMatchObject({
    state: 'over',
    endedWhy: 'shelved',
    dueAt: null,
  });
});

test('a TEST notice is answered by the link in its mail, signed out, and is no alarm', async () => {
  const form = { 'content-type': 'application/x-www-form-urlencoded', 'sec-fetch-site': 'same-origin' };
  const proof = '/api/sites/shelter-4/proof';
  const alarms = async () => (await api.get('/api/alarms?site=shelter-4')).body.items.length;
  const before = await alarms();
  expect((await api.send('POST', `${proof}/begin`, {})).status).toBeLessThan(300);
  expect((await api.send('POST', `${proof}/drill`, {})).status).toBeLessThan(300);
  const mail = await smtp.first(({ headers }) => headers.get('subject')!.startsWith('TEST: shelter-4'));
  const link = /Answer the test: https:\/\/holdoff\.example\.org(\/a\/\S+)/.exec(mail.text)![1]!;
  expect((await api.get(link)).body).toContain('<button>Answer the test</button>'); // looking answers nothing
  expect((await api.get(proof)).body.now.drill).toMatchObject({ answeredAt: null });
  const pressed = await api.send('POST', link, '', form);
  expect([pressed.status, pressed.body]).toEqual([200, expect.stringContaining('TEST answered')]);
  expect((await api.get(proof)).body.now.drill).toMatchObject({
    answeredAt: expect.stringMatching(/Z$/),
    answeredBy: 'ann',
  });
  expect((await api.send('POST', link, '', form)).body).not.toContain('<button>');
  expect(await alarms()).toBe(before);
});
