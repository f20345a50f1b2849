import { setTimeout as delay } from 'node:timers/promises';
import {
  lockSubject,
  readClaimedClocks,
  readDue,
  unlockSubject,
  type DueSubject,
} from '../../db/follow-work.ts';
import type { Database, Session } from '../../db/pool.ts';
import { correctClocks } from './clocks.ts';
import { makeFoldRate, type FoldRate } from './fold-rate.ts';
import type { Folds } from './material.ts';
import { RUN_LIMITS, type RunLimits } from './run-fold.ts';
import { makeSetups, SITES_KEPT, type Setups } from './setup.ts';
import { stepSubject, type StepMeans, type StepOutcome, type Turn } from './step.ts';

/**
 * Follows what is committed: looks which subjects wait, and lets workers take one step of one subject each. Any number
 * of workers in any number of processes may do so; a subject's advisory lock keeps two from one subject. A look is due
 * whenever something was committed (`nudge`), and every `pollMs` in any case, so that a lost notice costs a moment only.
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
  const queue = new DueQueue();
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

/** Who waits, who is being folded, and whose turn it is with an unfinished generation. At most MOST_DUE subjects. */
class DueQueue {
  #due: DueSubject[] = [];
  readonly #busy = new Set<number>();
  readonly #turns = new Map<number, Turn>();
  #takers: ((subject: DueSubject | null) => void)[] = [];
  #wake: (() => void) | null = null;
  #wanted = true;
  #ended = false;

  wantLook(): void {
    this.#wanted = true;
    this.#wake?.();
  }

  /** Comes back when a look is wanted, or after the time. */
  async lookWanted(milliseconds: number, signal: AbortSignal): Promise<void> {
    if (!this.#wanted) {
      const waiting = new AbortController();
      this.#wake = () => waiting.abort();
      await delay(milliseconds, undefined, { signal: AbortSignal.any([waiting.signal, signal]) }).catch(
        () => {},
      );
      this.#wake = null;
    }
    this.#wanted = false;
  }

  replace(due: readonly DueSubject[]): void {
    this.#due = due.filter(({ id }) => !this.#busy.has(id));
    while (this.#takers.length > 0 && this.#due.length > 0) this.#takers.shift()!(this.#begin());
  }

  take(): Promise<DueSubject | null> {
    if (this.#ended) return Promise.resolve(null);
    if (this.#due.length > 0) return Promise.resolve(this.#begin());
    this.wantLook();
    return new Promise((resolve) => this.#takers.push(resolve));
  }

  #begin(): DueSubject {
    const subject = this.#due.shift()!;
    this.#busy.add(subject.id);
    return subject;
  }

  turnOf = (subject: DueSubject): Turn => this.#turns.get(subject.id) ?? 'live';

  done(subject: DueSubject, next: Turn | null): void {
    this.#busy.delete(subject.id);
    if (next === 'refold') this.#turns.set(subject.id, next);
    else this.#turns.delete(subject.id);
  }

  end(): void {
    this.#ended = true;
    this.#due = [];
    for (const taker of this.#takers.splice(0)) taker(null);
    this.wantLook();
  }
}

async function look(
  options: FollowOptions,
  setups: Setups,
  queue: DueQueue,
  signal: AbortSignal,
): Promise<void> {
  while (!signal.aborted) {
    await queue.lookWanted(options.pollMs, signal);
    if (signal.aborted) return;
    try {
      queue.replace(await readWaiting(options.database, setups));
    } catch (error) {
      options.observe({ kind: 'look-failed', error });
      await delay(options.pollMs, undefined, { signal }).catch(() => {});
    }
  }
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
  for (let subject = await queue.take(); subject; subject = await queue.take()) {
    let next: Turn | null = null;
    try {
      const outcome = await claimAndStep(session, options, means, subject, queue.turnOf(subject));
      if (outcome?.kind === 'more') next = outcome.turn;
    } catch (error) {
      options.observe({ kind: 'step-failed', subject, error });
      throw error;
    } finally {
      queue.done(subject, next);
      queue.wantLook();
    }
  }
}

/** null: another worker has the subject. */
async function claimAndStep(
  session: Session,
  options: FollowOptions,
  means: StepMeans,
  subject: DueSubject,
  turn: Turn,
): Promise<StepOutcome | null> {
  if (!(await lockSubject(session, subject.id))) return null;
  const started = performance.now();
  try {
    const outcome = await session.transaction({ name: 'step', isolation: 'repeatable read' }, (queries) =>
      stepSubject(queries, subject, means, turn),
    );
    options.observe({ kind: 'stepped', subject, outcome, milliseconds: performance.now() - started });
    return outcome;
  } finally {
    await unlockSubject(session, subject.id);
  }
}
