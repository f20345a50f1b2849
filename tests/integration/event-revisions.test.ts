import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import Schema from 'typebox/schema';
import { statement } from '../../db/pool.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { REVISIONS_KEPT } from '../../shared/inference/revision.ts';
import { EventAnswer } from '../../shared/wire/event-answer.ts';
import type { Script } from '../fixtures/control-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, type Mark, type Message } from '../fixtures/follow-store.ts';
import { CALL, HIGH, OUTPUT, recordOf, VOLTAGE } from '../fixtures/unit-record.ts';

/**
 * Events are amended and withdrawn visibly (contract 4): what was said before, until when, and whose late data or which
 * change of settings made it so.
 */
const BASE = 1_700_000_000;
const t = (second: number): Instant => seconds(BASE + second);

const document = (offDelay: number, output: object = OUTPUT) => ({
  timeZone: 'UTC',
  gateways: [
    { id: 'east', heartbeatSeconds: 30 },
    { id: 'west', heartbeatSeconds: 30 },
  ],
  panels: [{ id: 'panel-a' }],
  units: [
    {
      id: 'unit-1',
      panel: 'panel-a',
      protection: { offDelay },
      points: [{ ...CALL }, { ...output }, { ...VOLTAGE }, { ...HIGH, gateway: 'west' }],
    },
  ],
});

/** A high-pressure trip at 500, retried at 710; a call that ends at 1500 and comes back 100 s later. */
const SCRIPT: Script = [
  [100, { call: true }],
  [500, { highPressureOpen: true }],
  [520, { highPressureOpen: false }],
  [1500, { call: false }],
  [1600, { call: true }],
  [2200, { call: false }],
];
const END = 2600;
const RECORD = recordOf(SCRIPT, { offDelay: 210 }, 300).map((row) => ({ ...row, t: row.t + seconds(BASE) }));
const isWest = (row: Row) => row.key === 'unit-1/high-pressure';

const told = (gateway: string, rows: readonly Row[]): Message[] =>
  rows.map((row) => ({ gateway, rows: [row] }));
const beats = (gateway: string, from: number, to: number): Message[] =>
  Array.from({ length: Math.floor((to - from) / 20) }, (_, i) => ({
    gateway,
    rows: [],
    life: t(from + i * 20),
  }));
const watched: Mark = { from: t(-600), to: t(END) };

let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
});
afterAll(() => api.stop());

async function site(name: string, body: object, messages: readonly Message[]): Promise<void> {
  expect((await api.send('PUT', `/api/sites/${name}`, body)).status).toBe(201);
  await commit(api.store.database, name, messages, [watched]);
  await caughtUp(api.store.database, name);
}

const all = async (name: string, kind: string) =>
  (await api.get(`/api/events?site=${name}&kind=${kind}`)).body.items as EventAnswer[];
const find = async (name: string, kind: string) => (await all(name, kind))[0]!;
const one = async (id: string) => (await api.get(`/api/events/${id}`)).body as EventAnswer;

describe('an event whose cause late data tell', () => {
  test('says what it said before, whose data came late, and by how much', async () => {
    const east = RECORD.filter((row) => !isWest(row));
    const before = RECORD.filter((row) => isWest(row) && row.t < t(0));
    await site('late', document(210), [
      ...told('east', east),
      ...beats('east', -300, END),
      ...told('west', before),
      ...beats('west', -300, 0),
    ]);
    const first = await find('late', 'soft-lockout');
    expect(first.cause).not.toBe('high-pressure');
    expect((await one(first.id)).history).toEqual([]);

    const late = RECORD.filter((row) => isWest(row) && row.t >= t(0));
    await commit(api.store.database, 'late', [...told('west', late), ...beats('west', 0, END)]);
    await caughtUp(api.store.database, 'late');
    const then = await one(first.id);
    expect(Schema.Errors(EventAnswer, then)[1]).toEqual([]);
    expect(then.cause).toBe('high-pressure');
    expect(then.history!.at(-1)).toMatchObject({
      id: first.id,
      revision: then.revision - 1,
      said: { cause: first.cause, certainty: first.certainty, start: first.start, withdrawn: false },
      why: { kind: 'late-data', gateway: 'west' },
    });
    const { why } = then.history!.at(-1)!;
    expect(Date.parse(why.learnedAt!)).toBeGreaterThan(Date.parse(why.t!));
  });
});

describe('an event whose start late data move', () => {
  const polled = { ...OUTPUT, reporting: { mode: 'polled', seconds: 20 } };
  const record = RECORD.filter(
    ({ key, t: at }) => key !== 'unit-1/compressor-output' || Math.round((at - t(0)) / 1e6) % 20 === 0,
  );

  test('is answered under its old id, with what was said under it', async () => {
    const lost = t(500); // the sample that saw the output off first
    await site('moved', document(210, polled), [
      ...told(
        'east',
        record.filter((row) => !isWest(row) && !(row.key.endsWith('output') && row.t === lost)),
      ),
      ...told('west', record.filter(isWest)),
      ...beats('east', -300, END),
      ...beats('west', -300, END),
    ]);
    const first = await find('moved', 'soft-lockout');
    const sample = { key: 'unit-1/compressor-output', t: lost, value: 0 };
    await commit(api.store.database, 'moved', told('east', [sample]));
    await caughtUp(api.store.database, 'moved');
    const then = await one(first.id);
    expect(then.id).not.toBe(first.id);
    expect(then.replaces).toEqual([first.id]);
    expect(then.start.latest).toBe(formatInstant(lost));
    expect(then.history!.at(-1)).toMatchObject({
      id: first.id,
      said: { start: first.start },
      why: {
        kind: 'late-data',
        gateway: 'east',
        device: 'unit-1',
        signal: 'compressor-output',
        t: formatInstant(lost),
      },
    });
  });
});

describe('an event that other settings take back', () => {
  test('stays readable: withdrawn, when, and why; and says so when it comes back', async () => {
    await site('settings', document(30), [
      ...told(
        'east',
        RECORD.filter((row) => !isWest(row)),
      ),
      ...told('west', RECORD.filter(isWest)),
      ...beats('east', -300, END),
      ...beats('west', -300, END),
    ]);
    expect(await find('settings', 'short-cycle')).toBeUndefined();
    const put = async (offDelay: number, from: string) => {
      await api.send('PUT', `/api/sites/settings?from=${from}`, document(offDelay));
      await caughtUp(api.store.database, 'settings');
    };
    await put(240, 'always');
    const early = (await all('settings', 'short-cycle')).at(-1)!;
    expect(Date.parse(early.start.latest)).toBeGreaterThan((BASE + 1500) * 1000);
    const from = formatInstant(t(1000));
    await put(30, from);
    const gone = await one(early.id);
    expect(gone.withdrawnAt).toBeDefined();
    expect(gone.history!.at(-1)).toMatchObject({
      said: { certainty: early.certainty, withdrawn: false },
      why: { kind: 'configuration', from },
    });
    await put(240, 'always');
    const back = await one(early.id);
    expect(back.withdrawnAt).toBeUndefined();
    expect(back.history!.at(-1)).toMatchObject({
      said: { withdrawn: true },
      why: { kind: 'configuration', from: null },
    });

    // there and back many times: the first and the newest revisions stay
    for (let i = 0; i < REVISIONS_KEPT / 2 + 2; i++) {
      await put(30, 'always');
      await put(240, 'always');
    }
    const { history } = await one(early.id);
    expect(history).toHaveLength(REVISIONS_KEPT);
    expect(history![0]!.revision).toBe(gone.history![0]!.revision);
    const kept = statement(
      '',
      'select max(count) as most from (select count(*) from event_revisions group by event_id) c',
    );
    expect((await api.store.database.one<{ most: number }>(kept)).most).toBeLessThanOrEqual(REVISIONS_KEPT);
  });
});
