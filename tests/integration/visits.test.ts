import { randomUUID } from 'node:crypto';
import Schema from 'typebox/schema';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { readDueAlarms } from '../../db/alarms.ts';
import { statement } from '../../db/pool.ts';
import type { AlarmAnswer } from '../../shared/wire/alarm-answer.ts';
import { EarlierVisits, VisitAnswer } from '../../shared/wire/visit-answer.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import type { Script } from '../fixtures/control-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { caughtUp, commit } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';
import { policyOf, putDefaultPolicy, reach } from '../fixtures/on-call-store.ts';
import { invite, setUpAdministrator, type Browser } from '../fixtures/signed-in.ts';

/**
 * A visit on a real database: accepted by one of two people of the same name, on site, the disconnect pulled, findings, left,
 * closed, watched. Times are seconds from now in event time, hours away from any bound.
 */
const SITE = 'rowan';
const DOCUMENT = {
  ...document(210),
  spaces: [
    {
      id: 'room-12',
      name: 'Room 12',
      limits: { temperature: 30 },
      points: [{ signal: 'space-temperature', reporting: { mode: 'on-change' } }],
    },
  ],
  units: document(210).units.map((unit) => ({ ...unit, space: 'room-12' })),
};

let api: ApiServer;
let ann: Browser & { readonly id: string };
let otherAnn: Browser & { readonly id: string };
let oncall: Browser & { readonly id: string };
let alarm: string;

beforeAll(async () => {
  api = await startApi();
  expect((await api.send('PUT', `/api/sites/${SITE}`, DOCUMENT)).status).toBe(201);
  const administrator = await setUpAdministrator(api);
  const person = (name: string, email: string) =>
    invite(api, administrator, { name, email, role: 'technician', sites: [SITE] });
  [ann, otherAnn, oncall] = [
    await person('Ann', 'ann@example.org'),
    await person('Ann', 'other@example.org'),
    await person('Ben', 'ben@example.org'),
  ];
  const { database } = api.store;
  // a channel to a port where nobody listens: what counts here is the row
  await reach(database, oncall.id, 'webhook', 'http://127.0.0.1:9/', 'c2VjcmV0');
  await putDefaultPolicy(database, {
    ...policyOf([oncall.id], []),
    night: { from: '22:00', to: '07:00', alwaysAtOnce: true },
  });
  await tell([...rowsOf(LOCKOUT, 900, 0), temperature(-600, 24)], -900, 0);
  alarm = (await list()).find(({ rule }) => rule === 'hard-lockout')!.id;
});
afterAll(() => api?.stop());

const temperature = (second: number, value: number): Row => ({
  key: 'room-12/space-temperature',
  t: at(second),
  value,
});

async function tell(rows: readonly Row[], from: number, to: number): Promise<void> {
  const { database } = api.store;
  const watched = [{ from: at(from === -900 ? -4000 : from - 20), to: at(to) }];
  await commit(database, SITE, [...told(rows), ...beats(from, to)], watched);
  await caughtUp(database, SITE);
  const end = performance.now() + 120_000;
  while ((await readDueAlarms(database, Date.now() * 1000, 100)).includes(SITE)) {
    if (performance.now() > end) throw new Error('alarms are still to be decided on');
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}

/** What the control did from now on, `to` seconds from now at most. */
const after = (script: Script, to: number): Row[] =>
  rowsOf([...LOCKOUT, ...script.map(([s, inputs]) => [900 + s, inputs] as const)], 900 + to, -to).filter(
    ({ t }) => t > at(0),
  );

const list = async (): Promise<AlarmAnswer[]> =>
  (await ann?.get(`/api/alarms?site=${SITE}`))!.body.items as AlarmAnswer[];
const visit = async (): Promise<VisitAnswer> => {
  const { body, status } = await ann.get(`/api/alarms/${alarm}/visit`);
  expect([status, Schema.Errors(VisitAnswer, body)[1]]).toEqual([200, []]);
  return body as VisitAnswer;
};
const step = (name: string, more: object = {}) =>
  ann.send('POST', `/api/alarms/${alarm}/step`, { step: name, ...more });

const PAGED = statement(
  '',
  `select distinct a.rule from deliveries d join notices n on n.id = d.notice join alarms a on a.id = n.alarm
   where d.reason in ('page', 'again') order by a.rule`,
);
const paged = async (): Promise<string[]> =>
  (await api.store.database.many<{ rule: string }>(PAGED)).map(({ rule }) => rule);

test('before anybody goes: must I go, what happened, how it clears, what to check first and to bring', async () => {
  await expect.poll(paged).toEqual(['hard-lockout']);
  const found = await visit();
  expect(found.urgency.answer).toBe('go-now');
  expect(found.timeline.map(({ says }) => says)).toEqual(
    expect.arrayContaining(['Soft lockout, high pressure', 'Hard lockout, high pressure']),
  );
  expect(found.clears[0]).toContain('Only when the cooling call or control power is broken');
  expect(found.first).toContain('write down what the control itself shows');
  expect(found.checks.map(({ id }) => id)).toEqual([
    'outdoor-coil',
    'outdoor-fan',
    'hot-day',
    'overcharge',
    'restriction',
    'high-switch',
  ]);
  expect(found.wouldTell).toEqual([expect.stringContaining('none is wired')]);
  expect(found.bring).toContain('run capacitors');
  expect(found.unit?.settings.find(({ name }) => name === 'offDelay')).toMatchObject({ value: 210 });
  expect(found.watch?.kind).toBe('standing');
});

test('accepting is the person by id, though another has the same name; sent twice it is once; another takes it over', async () => {
  const command = randomUUID();
  const accept = (by: Browser, body: object) => by.send('POST', `/api/alarms/${alarm}/accept`, body);
  for (let n = 0; n < 2; n++)
    expect((await accept(otherAnn, { command })).body).toMatchObject({ owner: 'Ann', ownerId: otherAnn.id });
  expect((await visit()).telling).toMatchObject({ state: 'owned', owner: otherAnn.id, place: 'accepted' });
  expect((await accept(ann, {})).body).toMatchObject({ state: 'C', owner: 'Ann', ownerId: ann.id });
  const { alarm: now, telling } = await visit();
  expect(telling).toMatchObject({ state: 'owned', owner: ann.id });
  expect(now.journal.filter(({ what }) => what === 'acknowledged')).toHaveLength(1);
  expect(now.journal.filter(({ what }) => what === 'taken-over')).toHaveLength(1);
});

test('a disconnect pulled during work in progress pages nobody; the room’s temperature still does', async () => {
  expect((await step('on-my-way')).body).toMatchObject({ owner: ann.id, place: 'accepted' });
  const command = randomUUID();
  expect((await step('on-site', { command })).body).toMatchObject({ owner: ann.id, place: 'on-site' });
  expect((await step('on-site', { command })).status).toBe(200);
  const begun = await visit();
  expect(begun.works).toEqual([expect.objectContaining({ units: ['unit-1'], by: 'Ann' })]);
  expect(begun.alarm).toMatchObject({ state: 'H', suppressed: { kind: 'work' } });
  // whoever works there is still asked after two hours whether they are all right
  expect(begun.telling).toMatchObject({ state: 'owned', owner: ann.id, place: 'on-site' });

  // within the minute in which what is over still explains (handbook 7), as it comes live
  await tell(after([[30, { controlVoltage: 0 }]], 60), 20, 60);
  const later = after([[30, { controlVoltage: 0 }]], 200).filter(({ t }) => t > at(60));
  await tell([...later, temperature(61, 35)], 80, 200);
  const alarms = await list();
  expect(alarms.find(({ rule }) => rule === 'unit-power-loss')).toMatchObject({
    state: 'H',
    suppressed: { kind: 'work' },
  });
  expect(alarms.find(({ rule }) => rule === 'high-temperature')).toMatchObject({ state: 'B' });
  await expect.poll(paged).toEqual(['hard-lockout', 'high-temperature']);
});

test('findings are checked and kept once; a reading that can’t be says what to do', async () => {
  const command = randomUUID();
  const findings = {
    command,
    shown: 'red lamp, two flashes',
    cause: 'outdoor-fan',
    causeSays: null,
    action: 'fan capacitor replaced',
    parts: ['run capacitor 5 µF'],
    readings: [{ of: 'discharge-pressure', value: 2900, measure: 'psi' }],
  };
  const send = (body: object) => ann.send('POST', `/api/alarms/${alarm}/findings`, body);
  const refused = await send(findings);
  expect([refused.status, refused.body.code]).toEqual([422, 'bad-findings']);
  expect(refused.body.faults).toEqual([
    {
      pointer: '/readings/0/value',
      message: 'Discharge pressure of 2900 psi can’t be (0 to 800 psi): look at the measure and the point.',
    },
  ]);
  const good = { ...findings, readings: [{ of: 'discharge-pressure', value: 2900, measure: 'kPa' }] };
  for (let n = 0; n < 2; n++) expect((await send(good)).status).toBe(201);
  expect((await visit()).findings).toEqual([
    expect.objectContaining({ id: command, by: 'Ann', cause: 'outdoor-fan', readings: good.readings }),
  ]);
});

test('whoever leaves while the power is still off is told of it, as everybody on call is', async () => {
  expect((await step('left')).status).toBe(200);
  expect((await visit()).works).toEqual([]);
  await expect.poll(paged).toEqual(['hard-lockout', 'high-temperature', 'unit-power-loss']);
});

test('closed, it is watched: the power-up delay, the run, the same cause again', async () => {
  const on = [30, { controlVoltage: 0, highPressureOpen: false }] as const;
  const back = [300, { controlVoltage: 26 }] as const;
  await tell(
    after([on, back], 320).filter(({ t }) => t > at(200)),
    220,
    320,
  );
  const closed = await ann.send('POST', `/api/alarms/${alarm}/close`, { reason: 'fan capacitor replaced' });
  expect(closed.body).toMatchObject({ state: 'A' });
  expect((await visit()).watch).toMatchObject({ kind: 'waiting', needSeconds: 900 });
  const since = (to: number, from: number) => after([on, back], to).filter(({ t }) => t > at(from));
  await tell(since(500, 320), 340, 500);
  const running = (await visit()).watch!;
  expect(running).toMatchObject({ kind: 'running', needSeconds: 900 });
  // the run that failed lasted from 710 to 800 of its script
  expect(running.failedRunSeconds!.map(Math.round)).toEqual([90, 90]);
  // nothing changes: its gateway lives
  await tell([], 520, 1500);
  expect((await visit()).watch).toMatchObject({ kind: 'holding', isOver: false });
  await tell(
    after([on, back, [1600, { highPressureOpen: true }]], 1700).filter(({ t }) => t > at(1500)),
    1520,
    1700,
  );
  expect((await visit()).watch).toMatchObject({ kind: 'failed', isSure: true });
  await expect.poll(paged).toContain('repair-failed');
  const again = (await list()).find(({ rule }) => rule === 'repair-failed')!;
  const { body } = await ann.get(`/api/alarms/${again.id}/earlier`);
  expect(Schema.Errors(EarlierVisits, body)[1]).toEqual([]);
  // the visit that was closed is attached, with what was found and that it didn’t hold
  expect((body as EarlierVisits).items[0]).toMatchObject({
    alarm,
    findings: [{ action: 'fan capacitor replaced' }],
    watch: { kind: 'failed' },
  });
  const earlier = await ann.get(`/api/alarms/${alarm}/earlier`);
  expect(Schema.Errors(EarlierVisits, earlier.body)[1]).toEqual([]);
});
