import Schema from 'typebox/schema';
import { afterAll, beforeAll, expect, test } from 'vitest';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { SCHOOL } from '../../shared/building/scenarios/school.ts';
import type { ReplayAnswer } from '../../shared/wire/replay-answer.ts';
import {
  ProposalAnswer,
  StaggerList,
  StaggerPlanAnswer,
  type ProposalAnswer as Proposal,
} from '../../shared/wire/stagger-answer.ts';
import { replayAskOf, replayedRestart } from '../../shared/wire/stagger-replay.ts';
import { keptTexts, listAnswer, planAnswer, priceText } from '../../shared/wire/stagger-sentences.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { START } from '../fixtures/building-run.ts';
import { readPdf } from '../fixtures/pdf.ts';
import { invite, setUpAdministrator, type Browser } from '../fixtures/signed-in.ts';
import { storeMore, storeTold } from '../fixtures/store-told.ts';
import { afterTurning, beforeTurning, SECOND_OUTAGE, TURNED_AT } from '../fixtures/two-outages.ts';

/**
 * The life of a proposal on a real database, over HTTP. On panel B of the simulated school two units are set alike and restart
 * together; what is proposed is agreed, set, read back and, at the next outage, kept. The server's clock is the test's.
 */
let api: ApiServer;
let engineer: Browser;
let technician: Browser;
let clock = START + seconds(TURNED_AT - 600);
let plan: StaggerPlanAnswer;
let proposal: Proposal;
const at = (second: number): string => formatInstant(START + seconds(second));
const PANEL = `/api/panels/${SCHOOL}/panel-b`;
const delaysOf = (body: { units: { id: string; protection: { offDelay: number } }[] }) =>
  Object.fromEntries(body.units.map(({ id, protection }) => [id, protection.offDelay]));

beforeAll(async () => {
  api = await startApi({ clock: () => clock });
  await storeTold(api, beforeTurning());
  const administrator = await setUpAdministrator(api);
  engineer = await invite(api, administrator, {
    name: 'Eve',
    email: 'eve@example.org',
    role: 'engineer',
    sites: [SCHOOL],
  });
  technician = await invite(api, administrator, {
    name: 'Tom',
    email: 'tom@example.org',
    role: 'technician',
    sites: [SCHOOL],
  });
});
afterAll(() => api?.stop());

test('the list says which panels restart together, and what a visit would spare', async () => {
  const { body } = await technician.get('/api/stagger');
  expect(Schema.Errors(StaggerList, body)[1]).toEqual([]);
  const list = body as StaggerList;
  expect(
    list.items.map(({ panel, together, spared, proposal: none }) => [panel.id, together, spared, none]),
  ).toEqual([['panel-b', 1, 1, null]]);
  expect(listAnswer(list)).toBe('1 panel restarts together; 1 visit would keep 1 start apart.');
});

test('the plan changes as few as can be, says what it promises and what it costs', async () => {
  const answer = await engineer.send('POST', `${PANEL}/stagger-plan`, {});
  expect(answer.status, JSON.stringify(answer.body)).toBe(200);
  plan = answer.body as StaggerPlanAnswer;
  expect(Schema.Errors(StaggerPlanAnswer, plan)[1]).toEqual([]);
  expect(plan.plan.outcome).toBe('apart');
  expect(
    plan.plan.units.some(({ by }) => by === 'measured'),
    'restarts have bracketed some',
  ).toBe(true);
  expect(planAnswer(plan.plan, plan.names)).toMatch(
    /^Setting Room 7 to \d+ s and Room 8 to \d+ s keeps all starts at least 2\.?\d* s apart, however timers are off/,
  );
  expect(priceText(plan.plan.price)).toMatch(/^Cooling returns up to \d+ s later after an outage, and up to/);
  expect([plan.together, plan.spared]).toEqual([1, 1]);
  expect(plan.plan.likelihood.proposed.value).toBeGreaterThan(plan.plan.likelihood.now!.value);
  expect(
    (await engineer.send('POST', `${PANEL}/stagger-plan`, { floor: 290, most: 200 })).body.faults,
  ).toEqual([{ pointer: '/floor', message: 'Give at most 200, or a greater "most".' }]);
  expect((await engineer.send('POST', `/api/panels/${SCHOOL}/panel-z/stagger-plan`, {})).status).toBe(404);
});

test('replayed, the restart that was seen comes apart where its calls are known', async () => {
  const restart = plan.restarts.at(-1)!;
  expect(restart.pairs.some(({ verdict }) => verdict === 'simultaneous')).toBe(true);
  const { body } = await engineer.send('POST', '/api/replay', replayAskOf(SCHOOL, plan.plan, restart));
  let answer = body as ReplayAnswer;
  while (answer.state === 'waiting' || answer.state === 'running') {
    await new Promise((resolve) => setTimeout(resolve, 50));
    answer = (await engineer.get(`/api/replay/${answer.id}`)).body as ReplayAnswer;
  }
  const minimum = plan.panel.minimumStartSeparation;
  const { replayed, shifted } = replayedRestart(answer.result!, restart, { plan: plan.plan, minimum });
  // Room 7 has no call contact: it can't be replayed, and is shifted by 0.1 × (250 − 210) s
  expect(shifted).toEqual({ 'unit-7': expect.closeTo(4, 9) });
  expect(replayed!.map(({ first, second, verdict }) => [first, second, verdict])).toEqual([
    ['unit-5', 'unit-6', 'separate'],
    ['unit-6', 'unit-7', 'separate'],
    ['unit-7', 'unit-8', 'separate'],
  ]);
});

test('an engineer drafts and agrees; a technician may not, and nothing is set that isn’t agreed', async () => {
  expect((await technician.send('POST', `${PANEL}/proposals`, {})).status).toBe(403);
  const drafted = await engineer.send('POST', `${PANEL}/proposals`, {});
  expect(drafted.status, JSON.stringify(drafted.body)).toBe(201);
  proposal = drafted.body as Proposal;
  expect(Schema.Errors(ProposalAnswer, proposal)[1]).toEqual([]);
  expect((await engineer.send('POST', `${PANEL}/proposals`, {})).body.code).toBe('conflict');
  const step = (by: Browser, name: string, body: object = {}) =>
    by.send('POST', `${PANEL}/proposals/${proposal.id}/${name}`, body);
  const readBacks = proposal.plan.units
    .filter(({ isChange }) => isChange)
    .map(({ id, proposed }) => ({ unit: id, offDelay: proposed.offDelay }));
  expect((await step(technician, 'set', { readBacks })).body.code).toBe('not-now');
  expect((await technician.get(`/api/sites/${SCHOOL}/work-order`)).status).toBe(404);
  expect((await step(technician, 'agree')).status).toBe(403);
  expect((await step(engineer, 'agree')).body).toMatchObject({
    state: 'agreed',
    agreed: { by: 'Eve' },
    set: null,
  });
  expect((await step(engineer, 'agree')).body.code).toBe('not-now');
});

test('the work order is a PDF of one page: what to set, where, boxes for the read-back, and the cautions', async () => {
  const response = await fetch(new URL(`/api/sites/${SCHOOL}/work-order`, api.server.url), {
    headers: { cookie: technician.cookie! },
  });
  expect(response.headers.get('content-type')).toBe('application/pdf');
  const { text, pages } = readPdf(Buffer.from(await response.arrayBuffer()));
  expect(pages).toHaveLength(1);
  expect(pages[0]!.coloured).toBe(false);
  expect(text).toContain('Work order: Harrow Lane School (simulated)');
  expect(text).toContain('starts by itself, without warning');
  for (const { id, isChange, proposed } of proposal.plan.units)
    if (isChange) {
      expect(text).toContain(`${plan.names[id]} shows after setting`);
      expect(text).toContain(`${proposed.offDelay} s`);
    }
});

test('what a technician reads back becomes the record from that instant on, there and in every later document', async () => {
  const before = delaysOf((await engineer.get(`/api/sites/${SCHOOL}`)).body);
  const changed = proposal.plan.units.filter(({ isChange }) => isChange);
  const delays = Object.fromEntries(changed.map(({ id, proposed }) => [id, proposed.offDelay]));
  // somebody writes a note into the site's document after the dials were turned, before that is written down
  clock = START + seconds(TURNED_AT + 60);
  const document = (await engineer.get(`/api/sites/${SCHOOL}`)).body;
  expect(
    (await engineer.send('PUT', `/api/sites/${SCHOOL}`, { ...document, notes: 'Keys moved.' })).status,
  ).toBe(200);
  clock = START + seconds(TURNED_AT + 120);
  const set = (body: object) => technician.send('POST', `${PANEL}/proposals/${proposal.id}/set`, body);
  const readBacks = changed.map(({ id, proposed }) => ({
    unit: id,
    offDelay: proposed.offDelay,
    shows: 'dial at its mark',
  }));
  const refusals = [
    [{ at: at(TURNED_AT + 900), readBacks }, '/at'],
    [{ at: at(0), readBacks }, '/at'],
    [{ readBacks: [{ unit: 'unit-1', offDelay: 200 }] }, '/readBacks/0/unit'],
    [{ readBacks: readBacks.map((one) => ({ ...one, offDelay: null })) }, '/readBacks'],
    [{ readBacks: [{ ...readBacks[0], offDelay: 900 }] }, '/readBacks/0/offDelay'],
  ] as const;
  for (const [body, pointer] of refusals) {
    const { status, body: said } = await set(body);
    expect([status, said.faults[0].pointer]).toEqual([400, pointer]);
  }
  const done = await set({ at: at(TURNED_AT), readBacks });
  expect(done.body, JSON.stringify(done.body)).toMatchObject({
    state: 'set',
    set: { by: 'Tom', from: at(TURNED_AT), readBacks },
    kept: { verdict: 'waiting' },
  });
  const documentAt = async (second: number) =>
    (await engineer.get(`/api/sites/${SCHOOL}?at=${at(second)}`)).body;
  expect(delaysOf(await documentAt(TURNED_AT - 1))).toEqual(before);
  expect(delaysOf(await documentAt(TURNED_AT))).toEqual({ ...before, ...delays });
  expect(await documentAt(TURNED_AT + 60)).toMatchObject({ notes: 'Keys moved.' });
  expect(delaysOf(await documentAt(TURNED_AT + 60))).toEqual({ ...before, ...delays });
  const versions = (await engineer.get(`/api/sites/${SCHOOL}/versions`)).body.versions;
  expect(versions.map(({ from }: { from: string }) => from)).toEqual([
    'always',
    at(TURNED_AT),
    at(TURNED_AT + 60),
  ]);
});

test('at the next restart it is seen to be kept', async () => {
  const changed = proposal.plan.units.filter(({ isChange }) => isChange);
  const delays = Object.fromEntries(changed.map(({ id, proposed }) => [id, proposed.offDelay]));
  await storeMore(api, afterTurning(delays));
  clock = START + seconds(SECOND_OUTAGE + 1800);
  const { items } = (await technician.get(`${PANEL}/proposals`)).body as { items: Proposal[] };
  const kept = items[0]!.kept!;
  expect(keptTexts(kept, plan.names)).toHaveLength(changed.length);
  expect(kept).toMatchObject({ verdict: 'kept', together: [] });
  expect(kept.units.map(({ unit }) => unit)).toEqual(changed.map(({ id }) => id));
  const list = (await technician.get('/api/stagger')).body as StaggerList;
  expect(list.items.find(({ panel }) => panel.id === 'panel-b')).toMatchObject({
    restarts: 1,
    together: 0,
    proposal: { state: 'set', kept: 'kept' },
  });
});

test('every step stands in the audit trail', async () => {
  const rows = await api.store.database.many<{ action: string; actor: string; status: number }>({
    name: '',
    text: `select action, actor_name as actor, status from audit where action in ('propose-settings', 'record-settings') and status < 300 order by id`,
  });
  expect(rows).toEqual([
    { action: 'propose-settings', actor: 'Eve', status: 201 },
    { action: 'propose-settings', actor: 'Eve', status: 200 },
    { action: 'record-settings', actor: 'Tom', status: 200 },
  ]);
});
