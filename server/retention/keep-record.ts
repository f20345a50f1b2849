import { keepInColumns } from '../../db/columnstore.ts';
import { moveFloor, readFloor, type Floor } from '../../db/floor.ts';
import { makePartitions, WEEK, weekOf, type SampleRange } from '../../db/partitions.ts';
import type { Database } from '../../db/pool.ts';
import { dropSamples, readDroppable, trimIntervals } from '../../db/retention.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { clockShifts, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import { makeBell, rest } from '../bell.ts';
import type { Folds } from '../follow/material.ts';
import { SITES_KEPT, type Setups } from '../follow/setup.ts';
import { makeFloor } from './make-floor.ts';
import type { RecordSettings } from './settings.ts';

/**
 * Looks after the record every hour: the coming weeks have their partitions, old samples lie in columns, what is older than is
 * to be retained goes, a week at a time. Any number of servers may do so; each step is safe beside the same step elsewhere.
 */
const EVERY_MS = 3_600_000;
const DAY = seconds(86_400);
const ROWS = 100_000;

export interface KeepOptions {
  readonly database: Database;
  readonly folds: Folds;
  readonly setups: Setups;
  readonly settings: RecordSettings;
  /** µs */
  readonly now: () => Instant;
  readonly failed: (error: unknown) => void;
}

export function startKeepingRecord(options: KeepOptions): { stop(): Promise<void> } {
  const stopping = new AbortController();
  const bell = makeBell(stopping.signal);
  const run = async (): Promise<void> => {
    while (!stopping.signal.aborted) {
      await keepRecord(options).catch(options.failed);
      await rest(EVERY_MS, bell.ended);
    }
  };
  const running = run();
  return {
    stop() {
      stopping.abort();
      return running;
    },
  };
}

export async function keepRecord(options: Omit<KeepOptions, 'failed'>): Promise<void> {
  const { database, settings, now } = options;
  const week = weekOf(now());
  await makePartitions(database, [week, week + WEEK, week + 2 * WEEK]);
  if (settings.retentionDays !== null) await retain(options, settings.retentionDays);
  if (settings.compressAfterDays !== null)
    await keepInColumns(database, now() - settings.compressAfterDays * DAY);
}

/** The floor first: nothing comes in below it any more; then every subject's checkpoint; only then whole weeks go. */
async function retain(options: Omit<KeepOptions, 'failed'>, days: number): Promise<void> {
  const { database, setups } = options;
  const at = weekOf(options.now() - days * DAY);
  const wanted = { at, keptFrom: at - WEEK };
  if ((await readDroppable(database, wanted.keptFrom)).length > 0) await moveFloor(database, wanted);
  const floor = await readFloor(database);
  if (!floor || !(await makeFloor({ ...options, rows: ROWS }, floor))) return;
  const shifts = await shiftsOf(database, setups);
  for (const range of await readDroppable(database, floor.keptFrom))
    if (!isBroughtAbove(range, shifts, floor)) await dropSamples(database, range);
  await trimIntervals(database, floor);
}

async function shiftsOf(database: Database, setups: Setups): Promise<ClockShift[]> {
  const all = await setups.readMany(database, '', SITES_KEPT);
  return all.flatMap(({ history }) =>
    [...new Set(history.flatMap(({ site }) => site.gateways.map(({ id }) => id)))].flatMap((id) =>
      clockShifts(history, `${id}/life`),
    ),
  );
}

/** A gateway whose clock stood in another year has samples there that belong above the floor: their week stays. */
const isBroughtAbove = (range: SampleRange, shifts: readonly ClockShift[], { keptFrom }: Floor): boolean =>
  shifts.some(
    ({ from, before, by }) =>
      from < range.before && before > range.from && by > 0 && Math.min(before, range.before) + by > keptFrom,
  );
