import { chmod, mkdtemp, rm } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { startEmbedded } from '../../db/embedded/start.ts';
import { migrate } from '../../db/migrate.ts';
import { providePlaces } from '../../db/partitions.ts';
import { readDeviceIds } from '../../db/points.ts';
import { openDatabase, statement, type Database } from '../../db/pool.ts';
import { Expectation, writeSamples } from '../../db/samples.ts';
import { putSite } from '../../db/sites.ts';
import { useTimescale } from '../../db/timescale.ts';
import { BEGIN, SITE, siteDocument, type UnitRow, UNIT } from './unit-record.ts';

/** A database of the bench's own, as it ships: every commit is on disk. Gone afterwards. */
export interface Store {
  readonly url: string;
  readonly database: Database;
  close(): Promise<void>;
}

/** On the embedded PostgreSQL, or on the one that BENCH_DATABASE_URL names (its user may create databases). */
export async function openStore(): Promise<Store> {
  const given = process.env['BENCH_DATABASE_URL'];
  const place = given ? await createOn(given) : await embeddedPlace();
  const database = open(place.url);
  await migrate(database);
  await useTimescale(database);
  return {
    url: place.url,
    database,
    close: async () => {
      await database.close();
      await place.end();
    },
  };
}

interface Place {
  readonly url: string;
  end(): Promise<void>;
}

async function embeddedPlace(): Promise<Place> {
  const folder = await mkdtemp(join(tmpdir(), 'holdoff-bench-'));
  await chmod(folder, 0o755); // started by root, PostgreSQL runs as another user
  const postgres = await startEmbedded({ folder: join(folder, 'postgres'), database: 'bench' });
  return {
    url: postgres.url,
    end: async () => {
      await postgres.stop();
      await rm(folder, { recursive: true, force: true });
    },
  };
}

async function createOn(given: string): Promise<Place> {
  const name = `holdoff_bench_${process.pid}`;
  const administrator = open(given);
  await administrator.run(statement('', `create database ${name}`));
  const url = new URL(given);
  url.pathname = `/${name}`;
  return {
    url: url.href,
    end: async () => {
      await administrator.run(statement('', `drop database ${name} with (force)`));
      await administrator.close();
    },
  };
}

const open = (url: string): Database =>
  openDatabase({
    url,
    name: 'bench',
    connections: 8,
    statementTimeoutMs: 600_000,
    connectTimeoutMs: 10_000,
  });

/** The bench's site with so many units; answers the row ids of their points. */
export async function putBenchSite(
  database: Database,
  units: number,
  document: object = siteDocument(units),
): Promise<ReadonlyMap<string, number>> {
  await putSite(database, {
    site: SITE,
    document,
    from: -Infinity,
    now: BEGIN,
    by: 'bench',
  });
  return (await readDeviceIds(database, SITE)).points;
}

const BATCH = 5000;

/** A unit's record, written through the ordinary door. */
export async function fillUnit(
  database: Database,
  points: ReadonlyMap<string, number>,
  rows: Iterable<UnitRow>,
  unit = UNIT,
): Promise<number> {
  let batch: UnitRow[] = [];
  let count = 0;
  const expectation = new Expectation();
  const flush = async () => {
    const columns = columnsOf(batch, points, unit);
    await providePlaces(database, columns.t);
    await database.transaction({ name: 'bench' }, (queries) => writeSamples(queries, columns, expectation));
    count += batch.length;
    batch = [];
  };
  for (const row of rows) if (batch.push(row) === BATCH) await flush();
  await flush();
  if (unit === UNIT) await database.run(statement('', 'analyze samples'));
  return count;
}

function columnsOf(rows: readonly UnitRow[], points: ReadonlyMap<string, number>, unit: string) {
  const placed = rows
    .map(({ signal, t, value }) => ({ pointId: points.get(`${unit}/${signal}`)!, t, value }))
    .sort((a, b) => a.pointId - b.pointId || a.t - b.t);
  return {
    length: placed.length,
    pointId: placed.map(({ pointId }) => pointId),
    t: placed.map(({ t }) => t),
    value: placed.map(({ value }) => value),
    quality: placed.map(() => 0),
  };
}
