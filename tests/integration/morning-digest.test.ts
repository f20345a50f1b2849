import { afterAll, beforeAll, expect, test } from 'vitest';
import { putDigestSettings } from '../../db/digests.ts';
import { saveAlarms } from '../../db/alarms.ts';
import { startEscalation } from '../../db/escalations.ts';
import { deliverOne, type Sender } from '../../server/notify/deliver.ts';
import { makeMail } from '../../server/notify/mail.ts';
import { takeDigests, type DigestMeans } from '../../server/notify/take-digests.ts';
import { makeSetups } from '../../server/follow/setup.ts';
import { decideAlarms } from '../../shared/alarms/decide.ts';
import { NO_ALARMS, type SiteAlarms } from '../../shared/alarms/given.ts';
import type { Command } from '../../shared/alarms/alarm.ts';
import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { exactly } from '../../shared/base/span.ts';
import { eventId, type EventDraft } from '../../shared/inference/event.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { putDocument } from '../fixtures/follow-store.ts';
import { addPerson, reach } from '../fixtures/on-call-store.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';
import { startSmtp, type Smtp } from '../fixtures/smtp.ts';

/** The morning digest on a real database and SMTP server, by a clock that the test owns: once a person and day. */
const at = (text: string): Instant => parseInstant(text)!;
let store: FreshDatabase;
let smtp: Smtp;
let now = at('2026-07-05T20:00:00Z');
let sender: Sender;
const people: Record<string, string> = {};
const document = {
  name: 'Pine Ridge',
  timeZone: 'America/New_York',
  gateways: [{ id: 'gateway' }],
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'room' }],
  units: ['unit-1', 'unit-2', 'unit-3'].map((id) => ({ id, name: id, panel: 'panel-a', space: 'room' })),
};
/** a server's own: another process has another */
const server = (): DigestMeans => ({
  database: store.database,
  setups: makeSetups(),
  now: () => now,
  publicUrl: 'https://holdoff.example.org/',
});

beforeAll(async () => {
  [store, smtp] = await Promise.all([freshDatabase(), startSmtp()]);
  sender = {
    database: store.database,
    channels: { 'e-mail': makeMail({ url: smtp.url, from: 'holdoff@example.org', ca: null }) },
    now: () => now,
    dice: () => 0,
  };
  await putDocument(store.database, 'pine', document);
  for (const name of ['ann', 'ben', 'cid']) {
    people[name] = await addPerson(store.database, name);
    await reach(store.database, people[name], 'e-mail', `${name}@example.org`);
  }
  // ben wants his at 06:00 in Berlin, cid none
  await putDigestSettings(store.database, people['ben']!, {
    isOn: true,
    atMinutes: 360,
    zone: 'Europe/Berlin',
    weekday: 3,
    isMonthly: false,
  });
  await putDigestSettings(store.database, people['cid']!, {
    isOn: false,
    atMinutes: 420,
    zone: 'UTC',
    weekday: 1,
    isMonthly: false,
  });
});
afterAll(async () => {
  await sender.channels['e-mail']!.close();
  await smtp.stop();
  await store.drop();
});

const lockout = (unit: string, from: Instant, end: Instant | null): EventDraft => ({
  id: eventId({ kind: 'unit', site: 'pine', device: unit }, 'failed-start', '', from),
  site: 'pine',
  panel: 'panel-a',
  unit,
  space: 'room',
  kind: 'failed-start',
  cause: 'at-start',
  start: exactly(from),
  end: end === null ? null : exactly(end),
  certainty: 'certain',
  causeCertainty: 'certain',
  pending: [],
  measures: {},
  candidates: [],
  evidence: [],
  members: [],
  discriminator: '',
});

let state: SiteAlarms = NO_ALARMS;
async function decide(events: readonly EventDraft[], commands: readonly Command[] = []): Promise<void> {
  const parsed = parseConfiguration('pine', document);
  if (!parsed.ok) throw new Error('faults');
  const decision = decideAlarms(state, {
    events,
    added: [],
    repairs: [],
    gone: [],
    commands,
    now,
    through: now,
    configuration: { site: parsed.site, tuning: [] },
    known: new Map(),
    pending: false,
    powered: new Map(),
    hotInUse: new Set(),
  });
  await store.database.transaction({ name: 'digest-test' }, async (queries) => {
    await saveAlarms(queries, 'pine', state, decision);
    for (const alarm of decision.alarms)
      await startEscalation(queries, { alarm: alarm.id, site: 'pine', severity: 'major' }, now);
  });
  state = decision.state;
}

/** everybody looks at once, then what is due is sent */
async function look(servers = 3): Promise<number> {
  const made = await Promise.all(Array.from({ length: servers }, () => takeDigests(server())));
  while (await deliverOne(sender));
  return made.reduce((sum, count) => sum + count, 0);
}
const mailsOf = (name: string) =>
  smtp.mails
    .filter(({ to }) => to.startsWith(name))
    .map(({ headers, text }) => ({ subject: headers.get('subject')!, text: text.replaceAll('\r', '') }));

test('three servers and any restart: one digest a person and day, at their own time; a quiet day brings none', async () => {
  // a Monday begins at 04:00Z in New York; 07:00 there is 11:00Z
  now = at('2026-07-06T10:59:00Z');
  expect(await look()).toBe(0);
  now = at('2026-07-06T11:00:10Z');
  expect(await look()).toBe(1);
  expect(mailsOf('ann')).toEqual([
    { subject: 'All quiet, 2026-07-06', text: expect.stringContaining('it shows that messages reach you') },
  ]);
  for (const minute of [1, 2, 30, 300]) {
    now = at('2026-07-06T11:00:10Z') + seconds(minute * 60);
    expect(await look()).toBe(0);
  }
  now = at('2026-07-07T11:05:00Z');
  expect(await look()).toBe(0);
  expect(smtp.mails).toHaveLength(1);
});

test('what waited, what is yours, what came and went; ben’s in Berlin, cid has none', async () => {
  now = at('2026-07-08T02:00:00Z');
  const [first, second, third] = ['unit-1', 'unit-2', 'unit-3'].map((unit) =>
    lockout(unit, now - seconds(30), null),
  );
  await decide([first!, second!, third!]);
  const idOf = (unit: string) =>
    state.alarms.find(({ subject, rule }) => subject.unit === unit && rule === 'failed-start')!.id;
  const ask = (alarm: string, kind: 'acknowledge' | 'close'): Command => ({
    id: `${alarm} ${kind}`,
    kind: 'alarm',
    alarm,
    asked: kind === 'close' ? { kind, by: 'ann', at: now, reason: 'belt' } : { kind, by: 'ann', at: now },
  });
  const [kept, gone] = [idOf('unit-2'), idOf('unit-3')];
  await decide([first!, second!, third!], [ask(kept, 'acknowledge'), ask(gone, 'acknowledge')]);
  const over = { ...third!, end: exactly(now) };
  await decide([first!, second!, over], [ask(gone, 'close')]);
  await decide([first!, second!, over], [ask(gone, 'close')]);
  // 06:00 in Berlin is 04:00Z, a Wednesday
  now = at('2026-07-08T04:00:30Z');
  expect(await look()).toBe(1);
  const [ben] = mailsOf('ben');
  expect(ben!.subject).toBe('2026-07-08: 1 waiting, 1 over');
  expect(ben!.text).toMatch(/Others have these:\n {2}▲ Pine Ridge, unit-2: .*ann has it/);
  now = at('2026-07-08T11:00:30Z');
  expect(await look()).toBe(1);
  const ann = mailsOf('ann').at(-1)!;
  expect(ann.subject).toBe('2026-07-08: 1 waiting, 1 yours, 1 over');
  expect(ann.text).toMatch(/Nobody has taken these yet:\n {2}▲ Pine Ridge, unit-1: Failed start/);
  expect(ann.text).toMatch(/Still yours until you close them:\n {2}▲ Pine Ridge, unit-2: Failed start/);
  expect(ann.text).toMatch(
    /Came and went since 2026-07-07 07:05; .*\n {2}▲ Pine Ridge, unit-3: Failed start/,
  );
  expect(mailsOf('cid')).toEqual([]);
  expect(new Set(smtp.mails.map(({ headers }) => headers.get('message-id'))).size).toBe(smtp.mails.length);
});
