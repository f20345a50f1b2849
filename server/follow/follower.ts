import { setTimeout as delay } from 'node:timers/promises';
import { readDue, readUrgent } from '../../db/follow-due.ts';
import { lockSubjects, readClaimedClocks, unlockSubjects, type DueSubject } from '../../db/follow-work.ts';
import type { Database, Session } from '../../db/pool.ts';
import { correctClocks } from './clocks.ts';
import { DueQueue } from './due-queue.ts';
import { makeFoldRate, type FoldRate } from './fold-rate.ts';
import type { Folds } from './material.ts';
import { RUN_LIMITS, type RunLimits } from './run-fold.ts';
import { makeSetups, SITES_KEPT, type Setups } from './setup.ts';
import type { StepMeans, StepOutcome, Turn } from './step.ts';
import { stepSubjects, type Stepped } from './steps.ts';

/**
 * Follows what is committed: looks which subjects wait, and lets workers take one step of some subjects each, in one
 * transaction: of one when it is quiet, of up to AT_ONCE (due-queue.ts) when many wait. Any number of workers in any number
 * of processes may do so; a subject's advisory lock keeps two from one subject. A look is due whenever something was committed
 * (`nudge`), and every `pollMs` in any case, so that a lost notice costs a moment only.
 */
export interface FollowOptions {
  readonly database: Database;
  readonly folds: Folds;
  readonly workers: number;
  readonly pollMs: number;
  /** most rows of the record for one step */
  readonly rows: number;
  readonly run?: RunLimits;
  readonly observe: (observation: FollowObservation) => void;
}

export type FollowObservation =
  | {
      readonly kind: 'stepped';
      readonly subject: DueSubject;
      readonly outcome: StepOutcome;
      readonly milliseconds: number;
    }
  | { readonly kind: 'step-failed'; readonly subject: DueSubject; readonly error: unknown }
  | { readonly kind: 'look-failed'; readonly error: unknown };

export interface Follower {
  /** look now: something was committed */
  nudge(): void;
  readonly setups: Setups;
  readonly rate: FoldRate;
  /** comes back when no step is under way */
  stop(): Promise<void>;
}

export const FOLLOW_DEFAULTS = { workers: 2, pollMs: 200, rows: 100_000 };
const MOST_DUE = 1_000;
/** Between two glances for what is urgent. */
const GLANCE_MS = 20;
/** While there is work, looking takes a fifth of the time at most: what it costs grows with what waits. */
const LOOKS_SPARED = 4;

export function startFollower(options: FollowOptions): Follower {
  const setups = makeSetups();
  const rate = makeFoldRate();
  const means: StepMeans = {
    folded: (rows, milliseconds) => rate.note(rows, milliseconds),
    folds: options.folds,
    setups,
    rows: options.rows,
    run: options.run ?? RUN_LIMITS,
  };
  const queue = new DueQueue(options.workers);
  const stopping = new AbortController();
  const looking = look(options, setups, queue, stopping.signal);
  const working = Array.from({ length: options.workers }, () => work(options, means, queue, stopping.signal));
  return {
    setups,
    rate,
    nudge: () => queue.wantLook(),
    async stop() {
      stopping.abort();
      queue.end();
      await Promise.all([looking, ...working]);
    },
  };
}

async function look(
  options: FollowOptions,
  setups: Setups,
  queue: DueQueue,
  signal: AbortSignal,
): Promise<void> {
  while (!signal.aborted) {
    await queue.lookWanted(options.pollMs);
    if (signal.aborted) return;
    const started = performance.now();
    try {
      queue.replace(await readWaiting(options.database, setups));
      await glance(options, queue, performance.now() + LOOKS_SPARED * (performance.now() - started));
    } catch (error) {
      options.observe({ kind: 'look-failed', error });
      await delay(options.pollMs, undefined, { signal }).catch(() => {});
    }
  }
}

/** While workers have enough to do: only for what is urgent, which costs little. Until a worker waits, or the time comes. */
async function glance({ database }: FollowOptions, queue: DueQueue, until: number): Promise<void> {
  for (let left = until - performance.now(); left > 0 && !queue.isHungry; left = until - performance.now()) {
    await queue.lookWanted(left);
    if (!queue.isHungry) queue.putFirst(await readUrgent(database, MOST_DUE));
    await queue.untilHungry(GLANCE_MS);
  }
  queue.wantLook(); // for everything else
}

/** From one snapshot, so that clocks and deadlines belong together. */
const readWaiting = (database: Database, setups: Setups): Promise<DueSubject[]> =>
  database.transaction({ name: 'look', isolation: 'repeatable read', readOnly: true }, async (queries) => {
    await setups.readMany(queries, '', SITES_KEPT); // whose clocks are to be corrected
    const claimed = await readClaimedClocks(queries);
    const clocks = correctClocks(claimed, setups.known);
    return readDue(queries, clocks, MOST_DUE);
  });

async function work(
  options: FollowOptions,
  means: StepMeans,
  queue: DueQueue,
  signal: AbortSignal,
): Promise<void> {
  while (!signal.aborted) {
    try {
      await options.database.session((session) => workOn(session, options, means, queue));
    } catch (error) {
      options.observe({ kind: 'look-failed', error });
      await delay(options.pollMs, undefined, { signal }).catch(() => {});
    }
  }
}

/** One worker on one connection, until there is nothing more to take or the connection fails. */
async function workOn(
  session: Session,
  options: FollowOptions,
  means: StepMeans,
  queue: DueQueue,
): Promise<void> {
  for (let subjects = await queue.take(); subjects; subjects = await queue.take()) {
    let steps: readonly Stepped[] = [];
    try {
      steps = await claimAndStep(session, means, subjects, queue.turnOf);
      for (const step of steps) options.observe({ kind: 'stepped', ...step });
    } catch (error) {
      const [subject] = subjects;
      if (subjects.length === 1) options.observe({ kind: 'step-failed', subject: subject!, error });
      else queue.partLater(subjects);
      throw error;
    } finally {
      queue.done(subjects, steps);
      queue.wantLook();
    }
  }
}

/** Those that another worker has are left out. */
async function claimAndStep(
  session: Session,
  means: StepMeans,
  subjects: readonly DueSubject[],
  turnOf: (subject: DueSubject) => Turn,
): Promise<readonly Stepped[]> {
  const ids = subjects.map(({ id }) => id);
  const locked = new Set(await lockSubjects(session, ids));
  if (locked.size === 0) return [];
  const mine = subjects.filter(({ id }) => locked.has(id));
  try {
    return await session.transaction({ name: 'step', isolation: 'repeatable read' }, (queries) =>
      stepSubjects(queries, mine, means, turnOf),
    );
  } finally {
    await unlockSubjects(session, [...locked]);
  }
}
