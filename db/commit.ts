import { writeArrivals, type ArrivalRow } from './arrivals.ts';
import { shareConfiguration } from './configuration-lock.ts';
import { writeLives, type LifeColumns } from './gateway-lives.ts';
import { writeIntervals, type IntervalRow } from './intervals.ts';
import { writeLastHeard, type HeardRow } from './last-heard.ts';
import { writeRejected, type RejectedRow } from './rejected.ts';
import { Expectation, writeSamples, type SampleColumns } from './samples.ts';
import { readConfigurationRevision } from './site-history.ts';
import { announce } from './sites.ts';
import { losesPlaces, providePlaces } from './partitions.ts';
import type { Database, Queries } from './pool.ts';
import { writeWaveforms, type WaveformRow } from './waveforms.ts';
import { writeWatchMark, type WatchMark } from './watch-marks.ts';

/**
 * One batch of telemetry, committed whole or not at all: what changed in the record, what is set aside, the work that
 * follows, and one notice to those who listen. Doing it twice is the same as once, except that entries set aside and
 * arrival counts may stand double after a lost answer; neither decides anything.
 */
export interface CommitBatch {
  /** the configuration revision under which it was decoded */
  readonly revision: number;
  readonly samples: SampleColumns;
  readonly lives: LifeColumns;
  readonly intervals: readonly IntervalRow[];
  readonly waveforms: readonly WaveformRow[];
  readonly heard: readonly HeardRow[];
  readonly rejected: readonly RejectedRow[];
  readonly arrivals: readonly ArrivalRow[];
  readonly marks: readonly WatchMark[];
}

/** Nothing at all, for batches that are of one thing alone. */
export const EMPTY_BATCH: Omit<CommitBatch, 'revision'> = {
  samples: { length: 0, pointId: [], t: [], value: [], quality: [] },
  lives: { length: 0, pointId: [], t: [] },
  intervals: [],
  waveforms: [],
  heard: [],
  rejected: [],
  arrivals: [],
  marks: [],
};

export type CommitOutcome =
  /** rows that were new or changed what was there: of samples, of signs of life, of intervals and waveforms */
  | {
      readonly kind: 'committed';
      readonly changed: number;
      readonly lives: number;
      readonly others: number;
    }
  /** nothing was written: decode again under the newer configuration */
  | { readonly kind: 'configuration-moved'; readonly revision: number };

/** `expectation` is one writer's, kept from batch to batch. */
export async function commitBatch(
  database: Database,
  batch: CommitBatch,
  expectation = new Expectation(),
): Promise<CommitOutcome> {
  await providePlaces(database, batch.samples.t, batch.lives.t);
  try {
    return await commitPlaced(database, batch, expectation);
  } catch (error) {
    if (!losesPlaces(database, error)) throw error;
    await providePlaces(database, batch.samples.t, batch.lives.t);
    return commitPlaced(database, batch, expectation);
  }
}

function commitPlaced(
  database: Database,
  batch: CommitBatch,
  expectation: Expectation,
): Promise<CommitOutcome> {
  return database.transaction({ name: 'commit' }, async (queries) => {
    await shareConfiguration(queries);
    const revision = await readConfigurationRevision(queries);
    if (revision !== batch.revision) return { kind: 'configuration-moved', revision };
    return writeBatch(queries, batch, expectation);
  });
}

/** Always in this order, and each table sorted by its key: writers side by side can't lock each other out. */
async function writeBatch(
  queries: Queries,
  batch: CommitBatch,
  expectation: Expectation,
): Promise<CommitOutcome> {
  const changed = await writeSamples(queries, batch.samples, expectation);
  const lives = await writeLives(queries, batch.lives);
  const intervals = await writeIntervals(queries, batch.intervals);
  const waveforms = await writeWaveforms(queries, batch.waveforms);
  await writeLastHeard(queries, batch.heard);
  await writeArrivals(queries, batch.arrivals);
  await writeRejected(queries, batch.rejected);
  for (const mark of batch.marks) await writeWatchMark(queries, mark);
  await announce(queries);
  return { kind: 'committed', changed, lives, others: intervals + waveforms };
}
