import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { IntervalRow } from '../../db/intervals.ts';
import { readDeviceIds } from '../../db/points.ts';
import { statement, type Database } from '../../db/pool.ts';
import { readStorage, useTimescale } from '../../db/timescale.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { mergeIntervals, type Interval } from '../../shared/telemetry/interval.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import { commit, commitLives, commitSamples, takeAllWork } from '../fixtures/commit.ts';
import { putDocument, readLives, readSamples } from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase } from '../fixtures/postgres.ts';
import { timescaleInWasm } from '../fixtures/timescale-wasm.ts';

/** The store keeps the same record whether its samples lie in a plain table or in a hypertable (contract 1.4). */
const T0: Instant = Date.UTC(2026, 2, 2) * 1_000;
const SITE = 'small-school';
const CALL = 'unit-1/cooling-call';
const VOLTAGE = 'unit-1/control-voltage';

interface Store {
  readonly database: Database;
  drop(): Promise<void>;
}

const STORES = [
  { kind: 'postgresql', cases: 60, open: (): Promise<Store> => freshDatabase() },
  {
    kind: 'timescaledb',
    cases: 20,
    open: async (): Promise<Store> => {
      const database = await timescaleInWasm();
      await useTimescale(database);
      return { database, drop: () => database.close() };
    },
  },
] as const;

describe.each(STORES)('the store on $kind', ({ kind, cases, open }) => {
  let store: Store;
  let database: Database;
  beforeAll(async () => {
    store = await open();
    database = store.database;
    await putDocument(database, SITE, SMALL_SCHOOL);
  });
  beforeEach(async () => {
    for (const table of ['samples', 'intervals', 'work_items', 'gateway_lives'])
      await database.run(statement('', `delete from ${table}`));
  });
  afterAll(() => store.drop());

  test('says what it is', async () => {
    expect(await readStorage(database)).toMatchObject({ kind });
  });

  test('samples weeks apart come back exactly, to the microsecond', async () => {
    const samples = [-400, -7, 0, 0.000001, 30].map((days, i) => ({
      key: VOLTAGE,
      t: T0 + Math.round(days * 86_400 * SECOND),
      value: 24.1 + i / 3,
      quality: i % 3,
    }));
    expect(await commitSamples(database, SITE, samples)).toMatchObject({ changed: 5 });
    const stored = await readSamples(database);
    expect(stored).toEqual(samples.map((sample) => ({ ...sample, key: `${SITE}/${VOLTAGE}` })));
  });

  test('the same again changes nothing and wakes nobody', async () => {
    const samples = [
      { key: CALL, t: T0 + 5, value: 1, quality: 0 },
      { key: CALL, t: T0, value: 0, quality: 0 },
    ];
    expect(await commitSamples(database, SITE, samples)).toMatchObject({ changed: 2 });
    expect(await takeAllWork(database)).toEqual([{ subject: 'unit/unit-1', earliest: T0 }]);
    expect(await commitSamples(database, SITE, samples)).toMatchObject({ changed: 0 });
    expect(await takeAllWork(database)).toEqual([]);
  });

  test('only what really changed makes work, one item a subject, from the earliest on', async () => {
    await commitSamples(database, SITE, [{ key: CALL, t: T0, value: 0, quality: 0 }]);
    await takeAllWork(database);
    const outcome = await commitSamples(database, SITE, [
      { key: CALL, t: T0, value: 0, quality: 0 },
      { key: CALL, t: T0 + 7, value: 1, quality: 0 },
      { key: VOLTAGE, t: T0 + 9, value: 24, quality: 0 },
      { key: 'panel-a/line-voltage', t: T0 + 3, value: 240, quality: 0 },
    ]);
    expect(outcome).toMatchObject({ changed: 3 });
    expect(await takeAllWork(database)).toEqual([
      { subject: 'panel/panel-a', earliest: T0 + 3 },
      { subject: 'unit/unit-1', earliest: T0 + 7 },
    ]);
  });

  test('whatever order samples of one instant come in, the join stands', async () => {
    await fc.assert(
      fc.asyncProperty(fc.array(aSample(), { minLength: 1, maxLength: 6 }), async (samples) => {
        await database.run(statement('', 'delete from samples'));
        for (const sample of samples) await commitSamples(database, SITE, [{ key: VOLTAGE, ...sample }]);
        const { t, value, quality } = (await readSamples(database))[0]!;
        expect({ t, value, quality }).toEqual(samples.reduce(mergeSamples));
      }),
      { numRuns: cases },
    );
  });

  test('whatever order intervals of one stretch come in, the join stands', async () => {
    const { points } = await readDeviceIds(database, SITE);
    const pointId = points.get(VOLTAGE)!;
    await fc.assert(
      fc.asyncProperty(fc.array(anInterval(), { minLength: 1, maxLength: 6 }), async (intervals) => {
        await database.run(statement('', 'delete from intervals'));
        for (const interval of intervals) await commit(database, { intervals: [{ pointId, ...interval }] });
        expect(await readIntervals(database)).toEqual([{ pointId, ...intervals.reduce(mergeIntervals) }]);
      }),
      { numRuns: cases },
    );
  });

  test('the newest life wakes nobody; one that comes behind it wakes whoever reads it', async () => {
    await commitLives(database, SITE, 'gateway', [T0 + 60 * SECOND]);
    await commitLives(database, SITE, 'gateway', [T0 + 90 * SECOND]);
    expect(await takeAllWork(database)).toEqual([]);
    await commitLives(database, SITE, 'gateway', [T0 + 70 * SECOND, T0 + 100 * SECOND]);
    const woken = await takeAllWork(database);
    expect(woken.map(({ subject }) => subject)).toContain('unit/unit-1');
    expect(woken.map(({ subject }) => subject)).toContain('gateway/gateway');
    expect(woken.every(({ earliest }) => earliest === T0 + 70 * SECOND)).toBe(true);
    await commitLives(database, SITE, 'gateway', [T0 + 70 * SECOND, T0 + 100 * SECOND]);
    expect(await takeAllWork(database)).toEqual([]);
    expect((await readLives(database)).map(({ t }) => (t - T0) / SECOND)).toEqual([60, 70, 90, 100]);
  });

  test('nothing is written under a configuration that has moved on', async () => {
    const outcome = await commit(database, {
      revision: -5,
      marks: [{ ingest: 'late', from: T0, to: T0 + 1 }],
    });
    expect(outcome.kind).toBe('configuration-moved');
    const marks = await database.many(statement('', "select from watch_marks where ingest = 'late'"));
    expect(marks).toEqual([]);
  });
});

const aSample = (): fc.Arbitrary<Sample> =>
  fc.record({
    t: fc.constant(T0),
    value: fc.constantFrom(-1, 0, 1, 23.999, 24),
    quality: fc.constantFrom(0, 1, 2, 4 + 1, 4 + 2),
  });

const anInterval = (): fc.Arbitrary<Interval> =>
  fc.record({
    from: fc.constant(T0),
    to: fc.constant(T0 + SECOND),
    least: fc.constantFrom(20, 21),
    most: fc.constantFrom(22, 23),
    mean: fc.constantFrom(21.25, 21.5, null),
    quality: fc.constantFrom(0, 1, 2),
  });

const readIntervals = (database: Database): Promise<IntervalRow[]> =>
  database.many(
    statement(
      '',
      'select point_id as "pointId", from_t as "from", t as "to", least, most, mean, quality from intervals',
    ),
  );
