import { afterAll, beforeAll, expect, test } from 'vitest';
import { formatInstant, seconds } from '../../shared/base/instant.ts';
import { startApi, type ApiServer } from '../fixtures/api-server.ts';
import { caughtUp, commit, putDocument } from '../fixtures/follow-store.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { untilLimit, WarmingRoom } from '../fixtures/warming-room.ts';

/**
 * How a site is cooled, asked over HTTP (handbook 6): a shelter that a thermostat kept between 23 and 25 °C for eight hours,
 * with the instants at which its unit really ran, and the room's own physics as the truth for what is foretold.
 */
const HOURS = 8;
// what is asked for is the newest
const BASE = Math.floor(Date.now() / 1000) - HOURS * 3600;

const LIMIT = 35;
const OUTDOORS = 30;
const SHELTER = {
  timeZone: 'UTC',
  gateways: [{ id: 'gateway', heartbeatSeconds: 60 }],
  panels: [{ id: 'panel-a' }],
  spaces: [
    {
      id: 'shelter',
      limits: { temperature: LIMIT },
      points: [{ signal: 'space-temperature', reporting: { mode: 'polled', seconds: 60 } }],
    },
    { id: 'store' },
  ],
  units: [
    { id: 'unit-1', panel: 'panel-a', space: 'shelter', points: [{ signal: 'compressor-output' }] },
    { id: 'unit-2', panel: 'panel-a', space: 'store', points: [] },
  ],
  points: [{ signal: 'outdoor-temperature', reporting: { mode: 'polled', seconds: 60 } }],
};

interface Kept {
  readonly rows: readonly Row[];
  readonly starts: number;
  /** seconds that the unit ran */
  readonly ran: number;
  /** without cooling from the last sample on, the limit is reached after so many seconds */
  readonly left: number | null;
}

/** The room goes through eight hours; its unit is switched by its air. */
function kept(): Kept {
  const warming = new WarmingRoom({
    air: 1.2e6,
    mass: 0,
    coupling: 0,
    conductance: 40,
    heat: () => 4000,
    outdoors: () => OUTDOORS,
    capacity: 9000,
    noise: 0.02,
  });
  const rows: Row[] = [{ key: 'unit-1/compressor-output', t: seconds(BASE), value: 0 }];
  let on = false;
  let [starts, ran] = [0, 0];
  while (warming.t < HOURS * 3600) {
    const t = seconds(BASE + warming.t);
    if (warming.t % 60 === 0) {
      rows.push({ key: 'shelter/space-temperature', t, value: warming.shown });
      rows.push({ key: 'site/outdoor-temperature', t, value: OUTDOORS });
      rows.push({ key: 'gateway/life', t, value: 1 });
    }
    const wanted: boolean = on ? warming.air > 23 : warming.air > 25;
    if (wanted !== on) {
      on = wanted;
      starts += Number(on);
      rows.push({ key: 'unit-1/compressor-output', t, value: Number(on) });
    }
    if (on) ran += 5;
    warming.step(5, on);
  }
  rows.push({ key: 'gateway/life', t: seconds(BASE + HOURS * 3600), value: 1 });
  return { rows, starts, ran, left: untilLimit(warming, LIMIT) };
}

let api: ApiServer;
const truth = kept();
beforeAll(async () => {
  api = await startApi();
  await putDocument(api.store.database, 'rowan', SHELTER);
  await commit(api.store.database, 'rowan', [{ gateway: 'gateway', rows: truth.rows }]);
  await caughtUp(api.store.database, 'rowan');
});
afterAll(() => api.stop());

test('counts what the unit did: its starts, and the share of the time that it ran', async () => {
  const { status, body } = await api.get(`/api/sites/rowan/cooling?hours=${HOURS + 1}`);
  expect(status).toBe(200);
  const [unit, unwired] = body.units;
  expect(unit).toMatchObject({ id: 'unit-1', starts: truth.starts });
  const share = truth.ran / (HOURS * 3600);
  expect(unit.runFraction[0]).toBeLessThanOrEqual(share + 0.002);
  expect(unit.runFraction[1]).toBeGreaterThanOrEqual(share - 0.002);
  expect(unit.knownSeconds).toBeGreaterThan(HOURS * 3600 - 120);
  // nothing is wired of the second: nothing is said of it
  expect(unwired).toMatchObject({ id: 'unit-2', runFraction: null, on: null });
});

test('foretells when the limit is reached with nothing cooled, the truth within what it says', async () => {
  const { body } = await api.get('/api/sites/rowan/cooling');
  const [space] = body.spaces;
  expect(space).toMatchObject({ id: 'shelter', limit: LIMIT, measured: true, outdoorsMeasured: true });
  expect(space.fit.offPeriods).toBeGreaterThan(3);
  const reached = BASE + HOURS * 3600 + truth.left!;
  expect(Date.parse(space.without.soonest)).toBeLessThanOrEqual(reached * 1000);
  if (space.without.latest !== null)
    expect(Date.parse(space.without.latest)).toBeGreaterThanOrEqual(reached * 1000);
  expect(space.forecast).toBeNull();
});

test('a window is bounded, and a site that isn’t there is not found', async () => {
  expect((await api.get('/api/sites/rowan/cooling?hours=169')).status).toBe(400);
  expect((await api.get('/api/sites/nowhere/cooling')).status).toBe(404);
});

test('answers as of its own time', async () => {
  const { body } = await api.get('/api/sites/rowan/cooling');
  expect(body.site).toBe('rowan');
  expect(Date.parse(body.serverTime)).toBeGreaterThan(Date.parse(formatInstant(seconds(BASE))));
});
