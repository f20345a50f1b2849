import { setImmediate as breathe } from 'node:timers/promises';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { BEGINNING, foldStep, type Folded, type StepResult } from '../../shared/inference/driver.ts';
import type { Fold, FoldContext, RecordPage } from '../../shared/inference/fold.ts';
import { CHECKPOINT_BYTES } from './checkpoint-ages.ts';

/**
 * A stretch of the record through the fold, in pieces so small that the process can do other things in between. Pure but
 * for the breath it takes and the time it is allowed.
 */
export interface FoldRun {
  readonly stored: Folded;
  readonly settled: StepResult['settled'];
  readonly provisional: StepResult['provisional'];
  /** null: the end of the record wasn't reached */
  readonly standing: StepResult['standing'];
  readonly checkpoints: readonly { readonly through: Instant; readonly state: string }[];
}

export interface RunLimits {
  /** stop between two pieces after this long */
  readonly milliseconds: number;
  /** rows to a piece, to begin with */
  readonly piece: number;
  /** a clock, for the limit alone */
  readonly clock: () => number;
}

export const RUN_LIMITS: RunLimits = { milliseconds: 1000, piece: 4096, clock: () => performance.now() };

interface Stretch {
  readonly page: RecordPage;
  /** further rows follow the page */
  readonly more: boolean;
}

export async function runFold(
  fold: Fold<unknown>,
  context: FoldContext,
  from: Folded,
  { page, more }: Stretch,
  now: Instant,
  limits: RunLimits = RUN_LIMITS,
): Promise<FoldRun> {
  const run = beginRun(from);
  const started = limits.clock();
  let piece = limits.piece;
  let at = 0;
  while (page.length - at > piece && limits.clock() - started < limits.milliseconds) {
    const end = endOfInstant(page, at + piece);
    if (end >= page.length) break;
    const before = run.stored.through;
    take(run, foldStep(fold, context, run.stored, rowsOf(page, at, end), { more: true, now }));
    if (run.stored.through === before) piece *= 2;
    else noteCheckpoint(run);
    at = rowsThrough(page, run.stored.through);
    await breathe();
  }
  const last = rowsOf(page, at, limits.clock() - started < limits.milliseconds ? page.length : at);
  const reached = !more && last.length === page.length - at;
  if (reached || last.length > 0)
    take(run, foldStep(fold, context, run.stored, last, { more: !reached, now }));
  noteCheckpoint(run);
  return run;
}

type Growing = {
  stored: Folded;
  settled: {
    events: StepResult['settled']['events'][number][];
    edges: StepResult['settled']['edges'][number][];
  };
  provisional: StepResult['provisional'];
  standing: StepResult['standing'];
  checkpoints: { through: Instant; state: string }[];
};

const beginRun = (stored: Folded): Growing => ({
  stored,
  settled: { events: [], edges: [] },
  provisional: { events: [], edges: [] },
  standing: null,
  checkpoints: [],
});

function take(run: Growing, step: StepResult): void {
  run.stored = step.stored;
  run.settled.events.push(...step.settled.events);
  run.settled.edges.push(...step.settled.edges);
  run.provisional = step.provisional;
  run.standing = step.standing;
}

/** Within a long run an hour apart is enough; the last state is always one, and its keeper thins them out. */
const WITHIN_A_RUN = seconds(3600);

function noteCheckpoint(run: Growing): void {
  const last = run.checkpoints.at(-1);
  if (run.stored.through === BEGINNING) return;
  if (last && run.stored.through - last.through < WITHIN_A_RUN) return;
  const state = JSON.stringify(run.stored.state);
  if (state.length <= CHECKPOINT_BYTES) run.checkpoints.push({ through: run.stored.through, state });
}

const endOfInstant = (page: RecordPage, row: number): number => {
  let end = row;
  while (end < page.length && page.t[end] === page.t[end - 1]) end++;
  return end;
};

function rowsOf(page: RecordPage, from: number, to: number): RecordPage {
  if (from === 0 && to === page.length) return page;
  return {
    length: to - from,
    t: page.t.slice(from, to),
    source: page.source.slice(from, to),
    value: page.value.slice(from, to),
    quality: page.quality.slice(from, to),
    ...(page.edges ? { edges: page.edges.slice(from, to) } : {}),
    ...(page.intervals ? { intervals: page.intervals.slice(from, to) } : {}),
  };
}

/** Rows of a page at or before an instant; it is in order of time. */
export function rowsThrough({ t, length }: RecordPage, through: Instant): number {
  let [low, high] = [0, length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (t[middle]! <= through) low = middle + 1;
    else high = middle;
  }
  return low;
}
