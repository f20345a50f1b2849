import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import type { IntervalRow } from '../../db/intervals.ts';
import { readDeviceIds } from '../../db/points.ts';
import { statement, type Database } from '../../db/pool.ts';
import { readDrawn, type DrawnValue } from '../../db/read-samples.ts';
import { readRecord, recordSources } from '../../db/record.ts';
import { readParts, rollUp } from '../../db/rollups.ts';
import { readSiteHistory } from '../../db/site-history.ts';
import { Expectation } from '../../db/samples.ts';
import { readFloor } from '../../db/floor.ts';
import { WEEK, weekOf } from '../../db/partitions.ts';
import { readStorage, useTimescale } from '../../db/timescale.ts';
import { makeSetups } from '../../server/follow/setup.ts';
import { keepRecord } from '../../server/retention/keep-record.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { sourcesOf } from '../../shared/inference/sources.ts';
import { mergeIntervals, type Interval } from '../../shared/telemetry/interval.ts';
import { mergeSamples, type Sample } from '../../shared/telemetry/sample.ts';
import { commit, commitLives, commitSamples, takeAllWork, type PointSample } from '../fixtures/commit.ts';
import { drawnByHand, type Scaled } from '../fixtures/drawn.ts';
import { putDocument, readLives, readSamples } from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase } from '../fixtures/postgres.ts';
import { timescaleInWasm } from '../fixtures/timescale-wasm.ts';

/** The store keeps the same record whether its samples lie in a plain table or in a hypertable (contract 1.4). */
const T0: Instant = Date.UTC(2026, 2, 2) * 1_000;
const SITE = 'small-school';
const CALL = 'unit-1/cooling-call';
const VOLTAGE = 'unit-1/control-voltage';

const TABLES = ['samples', 'sample_rollups', 'rollup_marks', 'intervals', 'work_items', 'gateway_lives'];

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
    for (const table of TABLES) await database.run(statement('', `delete from ${table}`));
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

  /** What writing such batches leaves, one after another; those who always merge never try COPY. */
  async function leftBy(batches: readonly (readonly PointSample[])[], expectation: Expectation) {
    for (const table of TABLES) await database.run(statement('', `delete from ${table}`));
    const changed: unknown[] = [];
    for (const batch of batches) changed.push(await commitSamples(database, SITE, batch, expectation));
    const marks = await database.many(statement('', 'select * from rollup_marks order by point_id, from_t'));
    return { changed, rows: await readSamples(database), marks, work: await takeAllWork(database) };
  }

  test('a large batch leaves the same rows, marks and work as one that is merged, new or partly there', async () => {
    const stretch = (key: string, from: number, rows: number, value: number) =>
      Array.from({ length: rows }, (_, i) => ({ key, t: T0 + (from + i) * SECOND, value, quality: 0 }));
    const batches = [
      [...stretch(VOLTAGE, -700, 1100, 24), ...stretch(CALL, 0, 100, 1)], // new throughout
      [...stretch(VOLTAGE, 399, 1200, 25), ...stretch(CALL, 100, 1, 0)], // its first row is there, with another value
      [...stretch(VOLTAGE, 1599, 1300, 25)], // new, but the last wasn't: merged
      [...stretch(VOLTAGE, 2899, 1000, 26)], // new
      [...stretch(VOLTAGE, 2899, 1000, 26)], // the same again
    ];
    const attempts: boolean[] = [];
    class Watched extends Expectation {
      override isNew(): boolean {
        attempts.push(super.isNew());
        return attempts.at(-1)!;
      }
    }
    class Merging extends Expectation {
      override isNew = () => false;
    }
    const tried = await leftBy(batches, new Watched());
    expect(attempts).toEqual([true, true, false, true, true]);
    expect(tried.changed.map((one) => (one as { changed: number }).changed)).toEqual([
      1200, 1201, 1300, 1000, 0,
    ]);
    expect(tried).toEqual(await leftBy(batches, new Merging()));
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

  test('an interval wakes who reads its point, once, and comes in the panel’s record at its end', async () => {
    const { points, subjects } = await readDeviceIds(database, SITE);
    const pointId = points.get('panel-a/line-voltage')!;
    const interval = { from: T0, to: T0 + 600 * SECOND, least: 180, most: 241, mean: null, quality: 0 };
    await commit(database, { intervals: [{ pointId, ...interval }] });
    expect(await takeAllWork(database)).toEqual([{ subject: 'panel/panel-a', earliest: interval.to }]);
    await commit(database, { intervals: [{ pointId, ...interval }] });
    expect(await takeAllWork(database)).toEqual([]);
    const history = await readSiteHistory(database, SITE);
    const sources = sourcesOf(history, { kind: 'panel', site: SITE, device: 'panel-a' });
    const places = recordSources(history, sources, { points, subjects });
    const at = (after: Instant) => readRecord(database, places, after, 100);
    const { page } = await at(T0);
    expect([page.length, page.t[0], page.intervals?.[0]]).toEqual([1, interval.to, interval]);
    expect((await at(interval.to)).page.length).toBe(0);
  });

  /** 1 scale in 4 turns values about; some samples are bad, some beyond the range, and some come after they were rolled up. */
  test('what is drawn from rollups is what the samples say, whenever they came and whatever was rolled up', async () => {
    const { points } = await readDeviceIds(database, SITE);
    const piece = { pointId: points.get(VOLTAGE)!, from: T0 + 7 * SECOND, before: T0 + 4801 * SECOND };
    const pixels = { origin: T0 - 300 * SECOND, width: 600 * SECOND };
    await fc.assert(
      fc.asyncProperty(someRecord(), aScale(), async (batches, scaled) => {
        for (const table of ['samples', 'sample_rollups', 'rollup_marks'])
          await database.run(statement('', `delete from ${table}`));
        const samples = batches.flatMap((batch) => batch.samples);
        for (const batch of batches) {
          await commitSamples(
            database,
            SITE,
            batch.samples.map((sample) => ({ key: VOLTAGE, ...sample })),
          );
          while (batch.rolledUp && (await rollUp(database, T0 + batch.rolledUp * SECOND)));
        }
        const drawn = await readDrawn(database, piece, pixels, scaled);
        expect(drawn.map(rounded)).toEqual(drawnByHand(samples, piece, pixels, scaled).map(rounded));
      }),
      { numRuns: Math.ceil(cases / 3) },
    );
  });

  test('what was rolled up is read from rollups, what has been marked since from its samples', async () => {
    const { points } = await readDeviceIds(database, SITE);
    const pointId = points.get(VOLTAGE)!;
    const stretch = { from: T0, before: T0 + 900 * SECOND };
    const at = (second: number) => ({ key: VOLTAGE, t: T0 + second * SECOND, value: 24, quality: 0 });
    await commitSamples(database, SITE, [at(10), at(400), at(700)]);
    expect((await readParts(database, pointId, stretch)).rolled).toEqual([]);
    expect(await rollUp(database, T0 + 600 * SECOND)).toBe(false);
    const rolled = [{ from: T0, before: T0 + 600 * SECOND }];
    expect(await readParts(database, pointId, stretch)).toEqual({
      rolled,
      exact: [{ from: T0 + 600 * SECOND, before: T0 + 900 * SECOND }],
    });
    await commitSamples(database, SITE, [at(10)]); // the same again changes nothing
    expect((await readParts(database, pointId, stretch)).rolled).toEqual(rolled);
    await commitSamples(database, SITE, [at(11)]);
    expect((await readParts(database, pointId, stretch)).rolled).toEqual([
      { from: T0 + 300 * SECOND, before: T0 + 600 * SECOND },
    ]);
  });

  test('old weeks go, and what is kept in columns answers as before: late, changed and repeated samples among them', async () => {
    const { points } = await readDeviceIds(database, SITE);
    const days = [-80, -40, -30, -20, -1];
    const at = (day: number, n: number) => ({
      key: VOLTAGE,
      t: T0 + (day * 86_400 + n) * SECOND,
      value: 24 + n / 8,
      quality: 0,
    });
    const rows = days.flatMap((day) => Array.from({ length: 40 }, (_, n) => at(day, n * 60)));
    await commitSamples(database, SITE, rows);
    const settings = { retentionDays: 35, compressAfterDays: 7 };
    const keep = () => keepRecord({ database, settings, folds: {}, setups: makeSetups(), now: () => T0 });
    await keep();
    const kept = (await readSamples(database)).map(({ t }) => Math.round((t - T0) / SECOND / 86_400));
    // whole weeks go, and the week before the floor stays for whoever begins there
    expect([...new Set(kept)]).toEqual([-40, -30, -20, -1]);
    expect(await readFloor(database)).toEqual({
      at: weekOf(T0 - 35 * 86_400 * SECOND),
      keptFrom: weekOf(T0 - 35 * 86_400 * SECOND) - WEEK,
    });
    const late = [at(-30, 7), { ...at(-30, 60), value: 20 }, at(-30, 120)];
    expect(await commitSamples(database, SITE, late)).toMatchObject({ changed: 2 });
    await keep();
    const all = [...rows.filter(({ t }) => t > T0 - 41 * 86_400 * SECOND), at(-30, 7)].map((row) =>
      row.t === late[1]!.t ? { ...row, ...mergeSamples(row, late[1]!) } : row,
    );
    const stored = await readSamples(database);
    expect(stored).toEqual(
      all.sort((a, b) => a.t - b.t).map((row) => ({ ...row, key: `${SITE}/${VOLTAGE}` })),
    );
    const piece = { pointId: points.get(VOLTAGE)!, from: T0 - 31 * 86_400 * SECOND, before: T0 };
    const pixels = { origin: T0 - 31 * 86_400 * SECOND, width: 600 * SECOND };
    const scaled = { scale: 1, offset: 0, range: [0, 60] } as const;
    const drawn = await readDrawn(database, piece, pixels, scaled);
    while (await rollUp(database, T0));
    expect((await readDrawn(database, piece, pixels, scaled)).map(rounded)).toEqual(drawn.map(rounded));
    expect(drawn.map(rounded)).toEqual(drawnByHand(all, piece, pixels, scaled).map(rounded));
    // a week that is gone has its place again, should a clock's offset bring samples there
    expect(await commitSamples(database, SITE, [at(-80, 1)])).toMatchObject({ changed: 1 });
    await database.run(statement('', 'delete from record_floor'));
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

/** Batches of samples of 80 minutes, each instant at most once; through which second all is rolled up after each, 0: nothing. */
const someRecord = () =>
  fc
    .uniqueArray(fc.integer({ min: 0, max: 480 }), { minLength: 1, maxLength: 60 })
    .chain((tens) =>
      fc.tuple(
        ...tens.map((ten) =>
          fc.record({
            t: fc.constant(T0 + ten * 10 * SECOND),
            value: fc.constantFrom(0, 23.5, 24, 24.75, 61),
            quality: fc.constantFrom(0, 0, 0, 1, 2),
            batch: fc.integer({ min: 0, max: 2 }),
          }),
        ),
        fc.array(fc.constantFrom(0, 1200, 6000), { minLength: 3, maxLength: 3 }),
      ),
    )
    .map((drawn) => {
      const rolled = drawn.at(-1) as number[];
      const samples = drawn.slice(0, -1) as (Sample & { batch: number })[];
      return rolled.map((rolledUp, i) => ({
        rolledUp,
        samples: samples
          .filter(({ batch }) => batch === i)
          .map(({ t, value, quality }) => ({ t, value, quality })),
      }));
    });

const aScale = (): fc.Arbitrary<Scaled> =>
  fc.constantFrom(
    { scale: 1, offset: 0, range: [0, 60] },
    { scale: 1, offset: 0, range: [0, 100] },
    { scale: 10, offset: 5, range: [100, 1000] },
    { scale: -1, offset: 60, range: [0, 60] },
  );

const rounded = (value: DrawnValue) => ({ ...value, sum: Math.round(value.sum * 1e6) });

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
