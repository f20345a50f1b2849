import { afterAll, beforeAll, expect, test } from 'vitest';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import type { AnalogSeries, ContactSeries } from '../../shared/wire/series.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { commit, putDocument } from '../fixtures/follow-store.ts';
import type { Row } from '../fixtures/fold-run.ts';

/** Series where the record isn't plain: chatter, bad samples, a wiring that was changed, a clock that was wrong. */
const BASE = 1_700_000_000;
const at = (second: number): string => formatInstant(seconds(BASE + second));
const wired = (fanCall: object = {}, offset = 0) => ({
  timeZone: 'UTC',
  gateways: [{ id: 'east' }, { id: 'west', clockOffsets: [{ from: 'always', seconds: offset }] }],
  panels: [{ id: 'panel-a' }],
  units: [
    {
      id: 'unit-1',
      panel: 'panel-a',
      points: [
        { signal: 'fan-call', gateway: 'east', ...fanCall },
        { signal: 'reversing-valve', gateway: 'east', reporting: { mode: 'polled', seconds: 10 } },
        { signal: 'supply-air-temperature', gateway: 'east', scale: 0.1, offset: -5 },
        { signal: 'compressor-output', gateway: 'west' },
      ],
    },
  ],
});

const row = (signal: string, second: number, value: number, quality = 0): Row => ({
  key: `unit-1/${signal}`,
  t: seconds(BASE + second),
  value,
  quality,
});

let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
  await putDocument(api.store.database, 'rowan', wired());
  const rows = [
    row('fan-call', 0, 0),
    row('fan-call', 100, 1),
    row('fan-call', 200, 1, 1), // uncertain: nothing is known from here on
    row('fan-call', 300, 0),
    row('reversing-valve', 0, 0),
    row('reversing-valve', 10, 1, 2), // bad: the edge widens to the neighbouring good samples
    row('reversing-valve', 20, 1),
    row('supply-air-temperature', 0, 200),
    row('supply-air-temperature', 1, 210),
    row('supply-air-temperature', 2, 9999), // 994.9 °C: outside the range, draws nothing
  ];
  const chatter = Array.from({ length: 4000 }, (_, i) => row('fan-call', 1000 + i / 10, i % 2));
  await commit(api.store.database, 'rowan', [{ gateway: 'east', rows: [...rows, ...chatter] }]);
  const west = [row('compressor-output', 0, 0), row('compressor-output', 100, 1)];
  await commit(api.store.database, 'rowan', [{ gateway: 'west', rows: west }]);
});
afterAll(() => api.stop());

async function read<S>(signal: string, from: number, to: number, width = 100): Promise<S> {
  const query = `site=rowan&device=unit-1&signals=${signal}&from=${at(from)}&to=${at(to)}&width=${width}`;
  const { status, body } = await api.get(`/api/series?${query}`);
  expect(status).toBe(200);
  return body.series[0] as S;
}

test('a sample that decides nothing leaves the contact unknown until the next good one', async () => {
  const { t, v, unknown } = await read<ContactSeries>('fan-call', -10, 400);
  expect([t, v]).toEqual([
    [at(0), at(100), at(300)],
    [0, 1, 0],
  ]);
  expect(unknown).toEqual([{ from: at(200), to: at(300) }]);
});

test('a polled contact’s edge reaches from its last good sample to the next', async () => {
  const { t, earliest, v } = await read<ContactSeries>('reversing-valve', -10, 100);
  expect([t, earliest, v]).toEqual([
    [at(0), at(20)],
    [at(0), at(0)],
    [0, 1],
  ]);
});

test('the state that a stretch begins with is a step before it', async () => {
  const { t, v } = await read<ContactSeries>('fan-call', 150, 180);
  expect([t, v]).toEqual([[at(100)], [1]]);
});

test('more steps than can be drawn are a crowded stretch', async () => {
  const { t, crowded } = await read<ContactSeries>('fan-call', 990, 1410, 50);
  expect(t.length).toBeLessThan(50);
  expect(crowded).toHaveLength(1);
  expect(Date.parse(crowded[0]!.from)).toBeLessThanOrEqual(Date.parse(at(1008)));
  expect(Date.parse(crowded[0]!.to)).toBeGreaterThanOrEqual(Date.parse(at(1395)));
});

test('scale, offset and range are applied as it is read', async () => {
  const { min, max, mean } = await read<AnalogSeries>('supply-air-temperature', 0, 10, 10);
  expect([min, max, mean]).toEqual([
    [15, 16],
    [15, 16],
    [15, 16],
  ]);
  const samples = await api.get('/api/samples?site=rowan&device=unit-1&signal=supply-air-temperature');
  expect(samples.body.items.map(({ v, q }: { v: number; q: string }) => [v, q])).toEqual([
    [200, 'good'],
    [210, 'good'],
    [9999, 'bad'],
  ]);
});

test('a pixel has the least, the greatest and the mean of its samples', async () => {
  const { t, min, max, mean } = await read<AnalogSeries>('supply-air-temperature', 0, 100, 10);
  expect([t, min, max, mean]).toEqual([[at(0)], [15], [16], [15.5]]);
});

test('a polarity that was changed on a day counts from that day', async () => {
  await putDocument(api.store.database, 'rowan', wired({ contact: 'normally-closed' }), seconds(BASE + 50));
  const { t, v } = await read<ContactSeries>('fan-call', -10, 400);
  // open at 0 s: not asserted; from 50 s on the same means asserted; closed at 100 s; open at 300 s
  expect([t, v]).toEqual([
    [at(0), at(50), at(100), at(300)],
    [0, 1, 0, 1],
  ]);
});

test('a clock’s offset moves what is drawn, and leaves the samples as they came', async () => {
  await putDocument(api.store.database, 'rowan', wired({}, 30), -Infinity);
  const { t, v } = await read<ContactSeries>('compressor-output', -10, 400);
  expect([t, v]).toEqual([
    [at(30), at(130)],
    [0, 1],
  ]);
  const samples = await api.get('/api/samples?site=rowan&device=unit-1&signal=compressor-output');
  expect(samples.body.items.map(({ t }: { t: string }) => t)).toEqual([at(0), at(100)]);
});
