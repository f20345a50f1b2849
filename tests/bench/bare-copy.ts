import { spawnSync } from 'node:child_process';
import { existsSync } from 'node:fs';
import { mkdtemp, rm, writeFile } from 'node:fs/promises';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { encodeSamples } from '../../db/sample-copy.ts';
import type { SampleColumns } from '../../db/samples.ts';
import { formatInstant, SECOND } from '../../shared/base/instant.ts';
import { emptyBareTable } from './bare-insert.ts';
import { UNITS } from './messages.ts';
import { rateOf } from './rounds.ts';
import type { Store } from './store.ts';
import { BEGIN } from './unit-record.ts';

/** The fastest write of rows that stand ready, known to be new: binary COPY, 5,000 rows a transaction, into the same key. */
const BATCH = 5_000;
const INTO = 'copy bare_samples (point_id, t, value, quality) from stdin (format binary)';

export async function bareCopy({ database }: Store, rows: number): Promise<number> {
  await emptyBareTable(database);
  const batches = Array.from({ length: rows / BATCH }, (_, i) => encodeSamples(batchOf(i * BATCH, BATCH)));
  return rateOf(rows, async () => {
    for (const batch of batches) await database.copyIn(INTO, [batch]);
  });
}

const PSQL = '/usr/bin/psql';
export const PSQL_IS_MISSING = !existsSync(PSQL);

/** Debian's psql with `\copy`: all rows in one statement, from a file as text. */
export async function psqlCopy({ database, url }: Store, rows: number): Promise<number> {
  await emptyBareTable(database);
  const folder = await mkdtemp(join(tmpdir(), 'holdoff-bench-'));
  try {
    const file = join(folder, 'rows');
    await writeFile(file, textOf(rows));
    return await rateOf(rows, () => {
      const command = `\\copy bare_samples from '${file}'`;
      const { status, stderr } = spawnSync(PSQL, ['-X', '-q', '-d', url, '-c', command], {
        encoding: 'utf8',
      });
      if (status !== 0) throw new Error(stderr);
    });
  } finally {
    await rm(folder, { recursive: true, force: true });
  }
}

function textOf(rows: number): string {
  const { length, pointId, t, value, quality } = batchOf(0, rows);
  const line = (i: number) => `${pointId[i]!}\t${formatInstant(t[i]!)}\t${value[i]!}\t${quality[i]!}\n`;
  return Array.from({ length }, (_, i) => line(i)).join('');
}

/** As messages bring them: the units in turn, each a second further; sorted as a batch is. */
function batchOf(first: number, rows: number): SampleColumns {
  const places = Array.from({ length: rows }, (_, i) => first + i);
  places.sort((a, b) => (a % UNITS) - (b % UNITS) || a - b);
  return {
    length: rows,
    pointId: places.map((place) => place % UNITS),
    t: places.map((place) => BEGIN + Math.floor(place / UNITS) * SECOND),
    value: places.map(() => 26.1),
    quality: places.map(() => 0),
  };
}
