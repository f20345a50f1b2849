import fc from 'fast-check';
import { afterAll, beforeAll, beforeEach, describe, expect, test } from 'vitest';
import { readDeviceIds } from '../../db/points.ts';
import { statement, type Database } from '../../db/pool.ts';
import { readRecord, recordSources, type RecordSource } from '../../db/record.ts';
import { readSiteHistory } from '../../db/site-history.ts';
import { timeParameter } from '../../db/values.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { UnitEdge } from '../../shared/inference/edge.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import { sourcesOf } from '../../shared/inference/sources.ts';
import { commitSamples, type PointSample } from '../fixtures/commit.ts';
import { putDocument } from '../fixtures/ingest.ts';
import { SMALL_SCHOOL } from '../fixtures/school.ts';
import { freshDatabase, type FreshDatabase } from '../fixtures/postgres.ts';

const SITE = 'small-school';
const T0: Instant = Date.UTC(2026, 2, 2) * 1_000;
const KEYS = ['unit-1/cooling-call', 'unit-1/compressor-output', 'unit-1/control-voltage'] as const;

let store: FreshDatabase;
let database: Database;
beforeAll(async () => {
  store = await freshDatabase();
  database = store.database;
});
beforeEach(async () => {
  await putDocument(database, SITE, SMALL_SCHOOL, -Infinity);
  for (const table of ['samples', 'unit_edges', 'work_items'])
    await database.run(statement('', `delete from ${table}`));
});
afterAll(() => store.drop());

interface Row {
  readonly key: string;
  readonly t: Instant;
  readonly value: number;
  readonly quality: number;
  readonly edge?: UnitEdge;
}

async function sourcesFor(kind: 'unit' | 'panel', device: string) {
  const history = await readSiteHistory(database, SITE);
  const sources = sourcesOf(history, { kind, site: SITE, device });
  return { sources, from: recordSources(history, sources, await readDeviceIds(database, SITE)) };
}

const rowsOf = (page: RecordPage, keys: readonly string[]): Row[] =>
  Array.from({ length: page.length }, (_, i) => ({
    key: keys[page.source[i]!]!,
    t: page.t[i]!,
    value: page.value[i]!,
    quality: page.quality[i]!,
    ...(page.edges?.[i] ? { edge: page.edges[i] } : {}),
  }));

/** Everything after an instant, page by page; each page must end between two instants. */
async function readAll(
  from: readonly RecordSource[],
  keys: readonly string[],
  after: Instant,
  limit: number,
) {
  const rows: Row[] = [];
  for (let through = after; ;) {
    const { page, more } = await readRecord(database, from, through, limit);
    const found = rowsOf(page, keys);
    expect(found.every(({ t }) => t > through)).toBe(true);
    rows.push(...found);
    if (!more) return rows;
    through = found.at(-1)!.t;
  }
}

const inOrder = (rows: readonly Row[], keys: readonly string[]): Row[] =>
  [...rows].sort((a, b) => a.t - b.t || keys.indexOf(a.key) - keys.indexOf(b.key));

test('a unit’s record comes in time order, whatever the size of the pages', async () => {
  const { sources, from } = await sourcesFor('unit', 'unit-1');
  const keys = sources.map(({ key }) => key);
  await fc.assert(
    fc.asyncProperty(someSamples(), fc.integer({ min: 1, max: 40 }), async (samples, limit) => {
      await database.run(statement('', 'delete from samples'));
      await commitSamples(database, SITE, samples);
      expect(await readAll(from, keys, -Infinity, limit)).toEqual(inOrder(samples, keys));
      const after = T0 + 10;
      const later = samples.filter(({ t }) => t > after);
      expect(await readAll(from, keys, after, limit)).toEqual(inOrder(later, keys));
    }),
    { numRuns: 40 },
  );
});

test('a panel’s record is its own samples and its units’ edges, merged', async () => {
  const { sources, from } = await sourcesFor('panel', 'panel-a');
  const keys = sources.map(({ key }) => key);
  const { subjects } = await readDeviceIds(database, SITE);
  const unit = subjects.get('unit/unit-1')!;
  await fc.assert(
    fc.asyncProperty(
      fc.uniqueArray(fc.integer({ min: 0, max: 20 }), { maxLength: 15 }),
      fc.array(fc.integer({ min: 0, max: 20 }), { maxLength: 15 }),
      fc.integer({ min: 1, max: 12 }),
      async (voltageAt, edgesAt, limit) => {
        for (const table of ['samples', 'unit_edges'])
          await database.run(statement('', `delete from ${table}`));
        const voltage = voltageAt.map((i) => ({
          key: 'panel-a/line-voltage',
          t: T0 + i,
          value: 240,
          quality: 0,
        }));
        await commitSamples(database, SITE, voltage);
        const edges = edgesAt.map((i, place) => edgeRow(T0 + i, place));
        for (const [place, { t, edge }] of edges.entries())
          await database.run(statement('', INSERT_EDGE), [unit, timeParameter(t), place, edge]);
        const rows = await readAll(from, keys, -Infinity, limit);
        expect(rows).toEqual(inOrder([...voltage, ...edges], keys));
      },
    ),
    { numRuns: 40 },
  );
});

const INSERT_EDGE = 'insert into unit_edges (subject_id, t, place, edge) values ($1, $2, $3, $4)';
const edgeRow = (t: Instant, place: number): Row & { readonly edge: UnitEdge } => ({
  key: 'unit-1/edges',
  t,
  value: 0,
  quality: 0,
  edge: { unit: 'unit-1', kind: 'start', span: { earliest: t - 1, latest: t }, certain: place % 2 === 0 },
});

describe('a gateway whose clock was off', () => {
  const offset = (from: string, seconds: number) => ({ from, seconds });
  const school = (...clockOffsets: ReturnType<typeof offset>[]) => ({
    ...SMALL_SCHOOL,
    gateways: [{ id: 'gateway', heartbeatSeconds: 10, clockOffsets }],
  });
  const at = (second: number, value: number): PointSample => ({
    key: KEYS[0],
    t: T0 + second * SECOND,
    value,
    quality: 0,
  });

  test('its samples are moved when they are read, each by the offset of its claimed time', async () => {
    // set back by 10 s at 00:01:00 of its own time: what it claimed before was 10 s fast
    await putDocument(
      database,
      SITE,
      school(offset('always', -10), offset('2026-03-02T00:01:00Z', 0)),
      -Infinity,
    );
    await commitSamples(database, SITE, [at(0, 0), at(55, 1), at(60, 0), at(90, 1)]);
    const { sources, from } = await sourcesFor('unit', 'unit-1');
    const keys = sources.map(({ key }) => key);
    const seconds = (rows: readonly Row[]) => rows.map(({ t, value }) => [(t - T0) / SECOND, value]);
    const all = [
      [-10, 0],
      [45, 1],
      [60, 0],
      [90, 1],
    ];
    for (const limit of [1, 2, 3, 10]) {
      expect(seconds(await readAll(from, keys, -Infinity, limit))).toEqual(all);
      expect(seconds(await readAll(from, keys, T0 + 45 * SECOND, limit))).toEqual(all.slice(2));
      expect(seconds(await readAll(from, keys, T0 + 44 * SECOND, limit))).toEqual(all.slice(1));
    }
  });

  test('where stretches come to overlap, corrected time decides the order', async () => {
    await putDocument(
      database,
      SITE,
      school(offset('always', 30), offset('2026-03-02T00:01:00Z', 0)),
      -Infinity,
    );
    await commitSamples(database, SITE, [at(50, 1), at(59, 2), at(60, 3), at(85, 4)]);
    const { sources, from } = await sourcesFor('unit', 'unit-1');
    for (const limit of [1, 2, 10]) {
      const rows = await readAll(
        from,
        sources.map(({ key }) => key),
        -Infinity,
        limit,
      );
      expect(rows.map(({ value }) => value)).toEqual([3, 1, 4, 2]);
    }
  });
});

const someSamples = (): fc.Arbitrary<PointSample[]> =>
  fc.uniqueArray(
    fc.record({
      key: fc.constantFrom(...KEYS),
      t: fc.integer({ min: 0, max: 20 }).map((i) => T0 + i),
      value: fc.double({ noNaN: true, noDefaultInfinity: true }).map((value) => value + 0),
      quality: fc.constantFrom(0, 1, 2, 5),
    }),
    { maxLength: 60, selector: ({ key, t }) => `${key} ${t}` },
  );
