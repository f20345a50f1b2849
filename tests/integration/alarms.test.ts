import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import { randomUUID } from 'node:crypto';
import Schema from 'typebox/schema';
import { readDueAlarms } from '../../db/alarms.ts';
import { AlarmList, AlarmWithJournal, type AlarmAnswer } from '../../shared/wire/alarm-answer.ts';
import type { Script } from '../fixtures/control-run.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, type Message } from '../fixtures/follow-store.ts';
import { at, beats, document, LOCKOUT, rowsOf, told } from '../fixtures/lockout.ts';

/** Alarms on a real database: from the record to the row, what people do about it, and what late data leave of it. */
let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
});
afterAll(() => api.stop());

async function site(name: string, body: object, messages: readonly Message[]): Promise<void> {
  expect((await api.send('PUT', `/api/sites/${name}`, body)).status).toBe(201);
  await commit(api.store.database, name, messages, [{ from: at(-4000), to: at(0) }]);
  await decidedOn(name);
}

/** Comes back when nothing waits, neither for inference nor for a decision. */
async function decidedOn(name: string): Promise<void> {
  await caughtUp(api.store.database, name);
  const end = performance.now() + 120_000;
  while ((await readDueAlarms(api.store.database, Date.now() * 1000, 100)).includes(name)) {
    if (performance.now() > end) throw new Error('alarms are still to be decided on');
    await new Promise((resolve) => setTimeout(resolve, 10));
  }
}

const list = async (name: string, more = ''): Promise<AlarmAnswer[]> => {
  const { body } = await api.get(`/api/alarms?site=${name}${more}`);
  expect(Schema.Errors(AlarmList, body)[1]).toEqual([]);
  return (body as AlarmList).items;
};
const one = async (id: string): Promise<AlarmWithJournal> => {
  const { body } = await api.get(`/api/alarms/${id}`);
  expect(Schema.Errors(AlarmWithJournal, body)[1]).toEqual([]);
  return body as AlarmWithJournal;
};
const find = (alarms: readonly AlarmAnswer[], rule: string) => alarms.find((one) => one.rule === rule);

describe('a hard lockout', () => {
  test('is an alarm, is acknowledged, keeps its id and its person through re-inference, and is closed by a person', async () => {
    await site('standing', document(210), [...told(rowsOf(LOCKOUT, 900, 0)), ...beats(-900, 0)]);
    const alarm = find(await list('standing'), 'hard-lockout')!;
    expect(alarm).toMatchObject({
      state: 'B',
      // its space has no other unit: cooling is lost with it
      severity: 'critical',
      subject: { kind: 'unit', device: 'unit-1', name: 'Room 12' },
      cause: 'high-pressure',
      siteName: 'Harrow Lane',
      owner: null,
    });
    const loss = find(await list('standing'), 'cooling-lost');
    expect(loss).toMatchObject({ state: 'H', suppressed: { kind: 'alarm', id: alarm.id } });

    const command = randomUUID();
    const answered = await api.send('POST', `/api/alarms/${alarm.id}/acknowledge`, { command });
    expect(answered.body).toMatchObject({ state: 'C', owner: 'this machine' });
    // the same wish again is the same wish; another is refused, and says why
    expect((await api.send('POST', `/api/alarms/${alarm.id}/acknowledge`, { command })).status).toBe(200);
    const again = await api.send('POST', `/api/alarms/${alarm.id}/acknowledge`, {});
    expect(again.status).toBe(409);
    expect(again.body).toMatchObject({ code: 'not-now', detail: 'Somebody has acknowledged it already.' });

    await api.send('PUT', '/api/sites/standing?from=always', document(240));
    await decidedOn('standing');
    const kept = await one(alarm.id);
    expect(kept).toMatchObject({ state: 'C', owner: 'this machine', acknowledged: { by: 'this machine' } });
    expect(kept.explains.map(({ rule }) => rule)).toContain('cooling-lost');
    const still = await api.send('POST', `/api/alarms/${alarm.id}/close`, { reason: 'coil cleaned' });
    expect(still.body).toMatchObject({ code: 'not-now', detail: expect.stringContaining('still true') });

    // the call is broken: it is over, and stays until somebody closes it
    const end = rowsOf([...LOCKOUT, [1000, { call: false }]], 1100, -200);
    await commit(
      api.store.database,
      'standing',
      [...told(end), ...beats(20, 200)],
      [{ from: at(0), to: at(210) }],
    );
    await decidedOn('standing');
    expect(await one(alarm.id)).toMatchObject({ state: 'F', active: false, latched: true });
    const closed = await api.send('POST', `/api/alarms/${alarm.id}/close`, { reason: 'coil cleaned' });
    expect(closed.body).toMatchObject({ state: 'A' });
    expect(find(await list('standing'), 'hard-lockout')).toBeUndefined();
    const { journal } = await one(alarm.id);
    expect(journal.map(({ what }) => what)).toEqual([
      'raised',
      ...journal.filter(({ what }) => what === 'made-worse' || what === 'amended').map(({ what }) => what),
      'acknowledged',
      'returned',
      'closed',
      'cleared',
    ]);
    expect(journal.find(({ what }) => what === 'closed')).toMatchObject({
      by: 'this machine',
      why: 'coil cleaned',
    });
  });

  test('that was over when it was learned pages nobody and stands in the journal', async () => {
    const script: Script = [...LOCKOUT, [1000, { call: false }]];
    await site('over', document(210), [...told(rowsOf(script, 1500, 1200)), ...beats(-2700, 0)]);
    const events = (await api.get('/api/events?site=over&kind=hard-lockout')).body.items as {
      end: unknown;
    }[];
    expect(events).toHaveLength(1);
    expect(events[0]!.end).not.toBeNull();
    expect(await list('over', '&state=A,B,C,D,E,F,G,H,I')).toEqual([]);
    const late = await api.store.database.many<{ what: string }>({
      name: '',
      text: "select what from alarm_changes where site = 'over'",
    });
    expect(late.map(({ what }) => what)).toContain('learned-late');
  });
});
