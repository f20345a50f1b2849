import { afterAll, beforeAll, describe, expect, test } from 'vitest';
import Schema from 'typebox/schema';
import { MILLISECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';
import { ClockList, type ClockAnswer } from '../../shared/wire/clock-answer.ts';
import type { Script } from '../fixtures/control-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commit as commitParts } from '../fixtures/commit.ts';
import { caughtUp, commit, type Message } from '../fixtures/follow-store.ts';
import { CALL, OUTPUT, recordOf, VOLTAGE } from '../fixtures/unit-record.ts';

/**
 * A gateway whose clock is 200 s ahead of its neighbour's: shown from two outages that both saw and from when its messages
 * arrive, set right by the lines that the answer gives, and then the events are those of a right clock (handbook 3).
 */
const AHEAD = 200;
const BASE = Math.floor(Date.now() / 1000) - 6 * 3600;
const at = (second: number): Instant => seconds(BASE + second);
const END = 7200;

const SCRIPT: Script = [
  [100, { call: true }],
  [1000, { controlVoltage: 0, call: false }],
  [1045, { controlVoltage: 26, call: true }],
  [4000, { controlVoltage: 0, call: false }],
  [4130, { controlVoltage: 26, call: true }],
  [6000, { call: false }],
];

const unit = (id: string, gateway: string) => ({
  id,
  panel: 'panel-a',
  protection: { offDelay: 210 },
  points: [CALL, OUTPUT, VOLTAGE].map((point) => ({ ...point, gateway })),
});
const document = (clockOffsets: readonly object[] = []) => ({
  timeZone: 'UTC',
  gateways: [
    { id: 'east', heartbeatSeconds: 60 },
    { id: 'west', heartbeatSeconds: 60, clockOffsets },
  ],
  panels: [{ id: 'panel-a' }],
  units: [unit('unit-1', 'east'), unit('unit-2', 'west')],
});

const RECORD = recordOf(SCRIPT, { offDelay: 210 }, 1000, 60);
const told = (name: string, gateway: string, ahead: number): Message[] => [
  ...RECORD.map((row): Message => ({ gateway, rows: [moved(row, name, ahead)] })),
  ...Array.from({ length: END / 60 }, (_, i) => ({ gateway, rows: [], life: at(i * 60 + ahead) })),
];
const moved = (row: Row, unitId: string, ahead: number): Row => ({
  ...row,
  key: row.key.replace('unit-1', unitId),
  t: row.t + at(ahead),
});

let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
});
afterAll(() => api.stop());

async function site(name: string, ahead: number): Promise<void> {
  expect((await api.send('PUT', `/api/sites/${name}`, document())).status).toBe(201);
  const watched = { from: at(-600), to: at(END) };
  await commit(api.store.database, name, told('unit-1', 'east', 0), [watched]);
  await commit(api.store.database, name, told('unit-2', 'west', ahead), [watched]);
  await commitParts(api.store.database, {
    arrivals: Array.from({ length: 18 }, (_, i) => at(i * 600)).flatMap((minute) =>
      ['east', 'west'].map((gateway) => {
        const leastMs = gateway === 'west' ? 400 - ahead * 1000 : 300;
        return { site: name, gateway, minute, count: 10, leastMs, medianMs: leastMs + 300 };
      }),
    ),
  });
  await caughtUp(api.store.database, name);
}

/** On corrected clocks, which the interface counts by. */
const inferred = (name: string) =>
  expect
    .poll(async () => (await api.get(`/api/inference?site=${name}`)).body.pending as number, {
      timeout: 60_000,
    })
    .toBe(0);

const clocks = async (name: string): Promise<ClockAnswer[]> => {
  const { status, body } = await api.get(`/api/sites/${name}/clocks`);
  expect(status).toBe(200);
  expect(Schema.Errors(ClockList, body)[1]).toEqual([]);
  return body.items;
};

/** Events without what names the site, in an order of their own. */
async function events(name: string): Promise<string[]> {
  const { items } = (await api.get(`/api/events?site=${name}&limit=2000`)).body as { items: EventAnswer[] };
  return items
    .map(({ kind, cause, unit: of, start, end, certainty, members }) =>
      JSON.stringify({ kind, cause, of, start, end, certainty, members }),
    )
    .sort();
}

describe('a gateway whose clock is off by minutes', () => {
  test('is shown with its evidence, and set right by the lines that are given', async () => {
    await site('right', 0);
    expect(await clocks('right')).toEqual([]);
    await site('rowan', AHEAD);
    const [found, ...others] = await clocks('rowan');
    expect(others).toEqual([]);
    expect(found).toMatchObject({
      gateway: 'west',
      against: 'east',
      certainty: 'certain',
      whose: 'shown',
      correction: { pointer: '/gateways/1/clockOffsets', from: 'always', seconds: -AHEAD },
    });
    expect(found!.edges).toHaveLength(4);
    expect(found!.edges.map(({ to }) => to)).toEqual(['away', 'back', 'away', 'back']);
    expect(found!.edges[0]!.here).toMatchObject({
      gateway: 'west',
      device: 'unit-2',
      signal: 'control-voltage',
    });
    const apart = Date.parse(found!.edges[0]!.here.latest) - Date.parse(found!.edges[0]!.there.latest);
    expect(apart).toBe((AHEAD * 1_000_000) / MILLISECOND);
    expect(found!.says).toBe(
      'Gateway west’s clock is about 3 min 20 s ahead of east’s, seen at 4 shared voltage edges, and by when its messages arrive. Set its offset to −200 s for all time.',
    );
    expect(await events('rowan')).not.toEqual(await events('right'));

    const { clockOffsets } = JSON.parse(`{${found!.correction.lines}}`) as { clockOffsets: object[] };
    const put = `/api/sites/rowan?from=${found!.correction.from}`;
    expect((await api.send('PUT', put, document(clockOffsets))).status).toBe(200);
    await inferred('rowan');
    expect(await clocks('rowan')).toEqual([]);
    expect(await events('rowan')).toEqual(await events('right'));
  });

  test('of a site that isn’t there nothing is said', async () => {
    expect((await api.get('/api/sites/nowhere/clocks')).status).toBe(404);
  });
});
