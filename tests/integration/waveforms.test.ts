import { afterAll, beforeAll, expect, test } from 'vitest';
import { readDeviceIds } from '../../db/points.ts';
import { readConfigurationRevision } from '../../db/site-history.ts';
import { trimWaveforms } from '../../db/waveforms.ts';
import { BatchMaker } from '../../ingest/batch.ts';
import { commitBatch } from '../../db/commit.ts';
import { Lateness } from '../../ingest/arrivals.ts';
import { NOTHING_KNOWN, readCatalogue } from '../../ingest/read-catalogue.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { messageOf } from '../fixtures/decode.ts';
import { putDocument } from '../fixtures/follow-store.ts';

/** A waveform from its message to what the API reads back: RMS values among the samples, the wave itself while it is kept. */
const BASE = 1_770_000_000;
const at = (second: number): string => formatInstant(seconds(BASE + second));
const LINE = 'site=rowan&device=panel-a&signal=line-voltage';

let api: ApiServer;
beforeAll(async () => {
  api = await startApi();
  await putDocument(api.store.database, 'rowan', {
    timeZone: 'UTC',
    panels: [
      {
        id: 'panel-a',
        points: [{ signal: 'line-voltage', scale: 2, reporting: { mode: 'polled', seconds: 1 } }],
      },
    ],
  });
});
afterAll(() => api.stop());

/** 120 V behind a scale of 2, to 70 % from cycle 4 for `cycles`; 16 cycles of 60 Hz, 128 values each. */
const wave = (cycles: number): number[] =>
  Array.from({ length: 16 * 128 }, (_, k) => {
    const cycle = k / 128;
    return (cycle >= 4 && cycle < 4 + cycles ? 84 : 120) * Math.SQRT2 * Math.sin(2 * Math.PI * cycle);
  });

async function receive(second: number, w: readonly number[]): Promise<void> {
  const { database } = api.store;
  const catalogue = await readCatalogue(database, NOTHING_KNOWN);
  const payload = JSON.stringify({ t0: at(second), dt: 1 / 7_680, w });
  const receivedAt = at(second + 60);
  const message = messageOf({ topic: 'holdoff/rowan/panel-a/line-voltage', payload, receivedAt });
  const maker = new BatchMaker({
    root: 'holdoff',
    catalogue,
    arrivalOf: (_: unknown, t: Instant) => t,
    lateness: new Lateness(),
    isLifeKnown: () => false,
  });
  maker.add(message);
  const batch = maker.finish([]);
  expect(batch.rejected).toEqual([]);
  expect(batch.commit.revision).toBe(await readConfigurationRevision(database));
  expect((await commitBatch(database, batch.commit)).kind).toBe('committed');
}

const kept = async (from: number, to: number) =>
  (await api.get(`/api/waveforms?${LINE}&from=${at(from)}&to=${at(to)}`)).body.items as {
    t0: string;
    dt: number;
    w: number[];
  }[];
const samples = async () =>
  (await api.get(`/api/samples?${LINE}&from=${at(-10)}&to=${at(1_000)}&limit=1000`)).body.items as {
    v: number;
  }[];

test('a message becomes half-cycle samples, once however often it comes, and the wave is read back', async () => {
  await receive(0, wave(5));
  await receive(0, wave(5));
  const values = (await samples()).map(({ v }) => v);
  expect(values.length).toBeGreaterThanOrEqual(29);
  expect(Math.min(...values)).toBeCloseTo(84, 3);
  const [one, ...more] = await kept(-1, 1);
  expect(more).toEqual([]);
  expect(one).toMatchObject({ t0: at(0), measure: 'V' });
  // behind the point's scale
  expect(Math.max(...one!.w)).toBeCloseTo(240 * Math.SQRT2, 2);
  // it reaches into the stretch though it began before it
  expect(await kept(0.1, 0.2)).toHaveLength(1);
  expect(await kept(0.3, 1)).toEqual([]);
});

test('of two waves for one instant the longer stays, whichever came first', async () => {
  await receive(100, wave(2));
  await receive(100, wave(2).slice(0, 500));
  await receive(200, wave(2).slice(0, 500));
  await receive(200, wave(2));
  expect((await kept(99, 101))[0]!.w).toHaveLength(2048);
  expect((await kept(199, 201))[0]!.w).toHaveLength(2048);
});

test('the sag of it becomes an event of the panel, with its class', async () => {
  await receive(300, wave(5));
  await receive(400, wave(0));
  await expect
    .poll(
      async () => {
        const { body } = await api.get(
          `/api/events?site=rowan&kind=voltage-sag&from=${at(299)}&to=${at(301)}`,
        );
        return (body.items as { measures: object }[]).map(({ measures }) => measures);
      },
      { timeout: 60_000 },
    )
    .toMatchObject([{ residualVolts: 168, residualPerUnit: 0.7, class: 'instantaneous sag' }]);
});

test('after its days a wave is gone, its samples stay', async () => {
  const before = (await samples()).length;
  const { points } = await readDeviceIds(api.store.database, 'rowan');
  expect(points.has('panel-a/line-voltage')).toBe(true);
  expect(await trimWaveforms(api.store.database, seconds(BASE + 150 + 90 * 86_400), 90)).toBe(2);
  expect(await kept(-1, 150)).toEqual([]);
  expect(await kept(199, 201)).toHaveLength(1);
  expect((await samples()).length).toBe(before);
});

test('an unknown point, a stretch the wrong way round: said', async () => {
  expect(
    (await api.get(`/api/waveforms?site=rowan&device=panel-b&signal=line-voltage&from=${at(0)}&to=${at(1)}`))
      .status,
  ).toBe(404);
  expect((await api.get(`/api/waveforms?${LINE}&from=${at(1)}&to=${at(0)}`)).status).toBe(400);
});
