import type { Instant } from '../shared/base/instant.ts';
import type { Floor } from './floor.ts';
import { readPartitions, readRanges, type SampleRange } from './partitions.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * Takes away what lies before the floor, a partition or a chunk at a time: no row is deleted one by one but those of the small
 * tables. Held back while a backup reads, which has the same lock (db/rollups.ts).
 */
const MINE = statement('', 'select pg_try_advisory_xact_lock(7203, 9) as mine');

/** Whole stretches of samples that lie before `keptFrom`, the oldest first. */
export const readDroppable = async (queries: Queries, keptFrom: Instant): Promise<SampleRange[]> =>
  (await readRanges(queries)).filter(({ before }) => before <= keptFrom);

/** Answers whether they are gone. */
export function dropSamples(database: Database, range: SampleRange): Promise<boolean> {
  return database.transaction({ name: 'retention' }, async (queries) => {
    if (!(await queries.one<{ mine: boolean }>(MINE)).mine) return false;
    const partition = (await readPartitions(queries)).find(
      ({ from, before }) => from === range.from && before === range.before,
    );
    if (partition) await dropPartition(queries, partition.name);
    else await queries.many(DROP_CHUNKS, [timeParameter(range.before)]);
    return true;
  });
}

/** Detaching asks for every other's leave; it waits shortly and is tried again, so that nobody queues up behind it. */
async function dropPartition(queries: Queries, name: string): Promise<void> {
  await queries.run(statement('', "set local lock_timeout = '2s'"));
  await queries.run(statement('', `drop table ${name}`));
}

const DROP_CHUNKS = statement('', "select drop_chunks('samples', older_than => $1::timestamptz)");

const TRIM_INTERVALS = statement('', 'delete from intervals where t < $1');

/** Rollups stay: a hundredth of the samples, from which years are drawn. */
export const trimIntervals = (queries: Queries, { keptFrom }: Floor): Promise<number> =>
  queries.run(TRIM_INTERVALS, [timeParameter(keptFrom)]);
