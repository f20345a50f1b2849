import { BEGINNING, unfolded, type Folded } from '../../shared/inference/driver.ts';
import { TAIL_BOUND } from '../../shared/inference/horizon.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { addWork, type DueSubject } from '../../db/follow-work.ts';
import { readCheckpointThroughs, rewindTo, stopSubject, type StoredState } from '../../db/follow-states.ts';
import { dropRefold, forgetDecided, putRefold, type Refold } from '../../db/follow-refolds.ts';
import type { Queries } from '../../db/pool.ts';
import type { RevisionWhy } from '../../shared/inference/revision.ts';
import { retryReason } from '../../db/sqlstate.ts';
import { earliestBy } from '../../shared/telemetry/clock-shifts.ts';
import type { Given } from './given.ts';
import { contextFor, readMaterial, readStretch, type Folds, type Material } from './material.ts';
import { rowsThrough, runFold, type FoldRun, type RunLimits } from './run-fold.ts';
import { saveGeneration, saveReached, saveUnfinished } from './save.ts';
import type { Setups } from './setup.ts';
import { decidedAfter, firstRowAfter, startAfter, type Start } from './start-after.ts';
import { earliestNewLife, IN_ORDER, whyAgain } from './why.ts';

/**
 * One step of one subject, inside a transaction (steps.ts): its rows through the fold, what follows saved (architecture 4).
 * Four ways to go on:
 *
 *   extend   the stored state takes the rows after it
 *   rewind   a row at or before the stored state has changed: from the newest checkpoint before it, everything later again;
 *            what stood is compared with what comes out
 *   refold   the same, but too long for one step: a generation of its own grows over many steps, while what stood stands
 *   rest     the fold has failed on this subject before and nothing has changed since: remember what is to be done again
 */
export interface StepMeans {
  readonly folds: Folds;
  readonly setups: Setups;
  readonly rows: number;
  readonly run: RunLimits;
  /** rows of the record that a step has taken for good, and how long reading and folding them took */
  readonly folded?: (rows: number, milliseconds: number) => void;
}

export type StepOutcome =
  | { readonly kind: 'done' | 'gone' | 'resting' }
  /** more rows follow, or a generation is unfinished */
  | { readonly kind: 'more'; readonly turn: Turn }
  | { readonly kind: 'stopped'; readonly reason: string };

/** With a generation unfinished, live work and the generation take turns, live work first. */
export type Turn = 'live' | 'refold';

/** Its work items are left to the caller. */
export async function stepSubject(
  queries: Queries,
  subject: DueSubject,
  means: StepMeans,
  given: Given,
  turn: Turn,
): Promise<StepOutcome> {
  const { work, stored, snapshot } = given;
  const { earliest } = work;
  const material = await readMaterial(queries, subject, means.folds, snapshot);
  if (!material) return { kind: 'gone' };
  let { refold } = given;
  const dirty = dirtyFrom(earliest, stored, material);
  if (!refold && stored && isResting(stored, material))
    return rest(queries, subject, stored, material, dirty);
  if (refold) {
    const newLife = await earliestNewLife(snapshot, material, refold);
    refold = await rewindRefold(queries, subject, refold, material, Math.min(dirty, newLife?.t ?? Infinity));
  }
  const usable = stored !== null && stored.stopped === null && stored.foldVersion === material.fold.version;
  if (refold && usable && turn === 'live' && earliest !== null)
    return extend(queries, subject, means, material, given, { from: foldedOf(stored), refolding: true });
  if (refold) return growRefold(queries, subject, means, material, given, refold);
  const newLife = stored && (await earliestNewLife(snapshot, material, stored));
  const late = Math.min(dirty, newLife?.t ?? Infinity);
  if (stored && (!usable || late <= stored.through)) {
    const outdated = stored.foldVersion !== material.fold.version;
    return rewind(queries, subject, means, material, given, {
      dirty: usable ? late : Math.min(late, rewindOfUnusable(stored)),
      why: outdated ? { kind: 'rules' } : whyAgain(work, material, newLife),
    });
  }
  const from = stored ? foldedOf(stored) : unfolded(material.fold);
  return extend(queries, subject, means, material, given, { from, refolding: false });
}

const foldedOf = (stored: StoredState): Folded => ({
  version: stored.foldVersion,
  through: stored.through,
  state: stored.state,
});

/** A state of other code is no start at all; checkpoints of this code may be. */
const rewindOfUnusable = (stored: StoredState): Instant => stored.dirtyFrom ?? -Infinity;

/** The earliest instant that has changed, on the gateways' corrected clocks; Infinity: only what comes after. */
function dirtyFrom(earliest: Instant | null, stored: StoredState | null, material: Material): Instant {
  const early = Math.max(0, ...material.sources.map(({ shifts }) => earliestBy(shifts)));
  return Math.min((earliest ?? Infinity) - early, stored?.dirtyFrom ?? Infinity);
}

const isResting = (stored: StoredState, { fold, setup }: Material): boolean =>
  stored.stopped !== null && stored.foldVersion === fold.version && stored.configRevision === setup.revision;

async function rest(
  queries: Queries,
  subject: DueSubject,
  stored: StoredState,
  material: Material,
  dirty: Instant,
): Promise<StepOutcome> {
  if (dirty < (stored.dirtyFrom ?? Infinity)) await stop(queries, subject, material, stored.stopped!, dirty);
  return { kind: 'resting' };
}

const stop = (queries: Queries, subject: DueSubject, material: Material, reason: string, dirty: Instant) =>
  stopSubject(queries, subject.id, {
    configRevision: material.setup.revision,
    foldVersion: material.fold.version,
    reason,
    dirtyFrom: dirty,
    never: BEGINNING,
  });

async function extend(
  queries: Queries,
  subject: DueSubject,
  means: StepMeans,
  material: Material,
  given: Given,
  { from, refolding }: { readonly from: Folded; readonly refolding: boolean },
): Promise<StepOutcome> {
  const run = await foldFrom(queries, means, material, { from, since: from.through });
  if ('failed' in run) return failed(queries, subject, material, run.failed, from.through);
  const saving = {
    run,
    undecided: given,
    kept: given.checkpoints,
    since: Infinity,
    decided: NOTHING_DECIDED,
    keepCheckpoints: !refolding,
    why: IN_ORDER,
  };
  if (run.standing) {
    await saveReached(queries, subject, material, saving);
    return refolding ? { kind: 'more', turn: 'refold' } : { kind: 'done' };
  }
  const stuck = run.stored.through === from.through;
  if (stuck && material.membersHorizon === Infinity)
    return failed(
      queries,
      subject,
      material,
      'The position doesn’t move, however many rows are read.',
      from.through,
    );
  await saveUnfinished(queries, subject, material, saving, stuck);
  if (stuck && !refolding) return { kind: 'done' };
  return { kind: 'more', turn: refolding ? 'refold' : 'live' };
}

const NOTHING_DECIDED = { events: [], edges: [] };

async function rewind(
  queries: Queries,
  subject: DueSubject,
  means: StepMeans,
  material: Material,
  given: Given,
  { dirty, why }: { readonly dirty: Instant; readonly why: RevisionWhy },
): Promise<StepOutcome> {
  const { fold } = material;
  const start = startAfter(await rewindTo(queries, subject.id, dirty, fold.version), material);
  const run = await foldFrom(queries, means, material, start);
  if ('failed' in run) return failed(queries, subject, material, run.failed, dirty);
  const { since } = start;
  const kept = await readKept(queries, subject);
  const saving = { run, undecided: given, kept, since, decided: NOTHING_DECIDED, keepCheckpoints: true, why };
  if (run.standing) {
    await saveReached(queries, subject, material, saving);
    return { kind: 'done' };
  }
  await saveGeneration(queries, subject, material, { ...saving, base: since });
  await addWork(queries, subject.id, Infinity); // rows that came with the change are live work too
  return { kind: 'more', turn: 'live' };
}

/** Asked again: going back has dropped some. */
const readKept = async (queries: Queries, { id }: DueSubject): Promise<readonly Instant[]> =>
  (await readCheckpointThroughs(queries, [id])).map(({ through }) => through);

/** The generation too has to go back where a row that it has taken has changed. */
async function rewindRefold(
  queries: Queries,
  subject: DueSubject,
  refold: Refold,
  material: Material,
  dirty: Instant,
): Promise<Refold> {
  const outdated = refold.foldVersion !== material.fold.version;
  if (!outdated && dirty > refold.through) return refold;
  const foldVersion = material.fold.version;
  const { from, since } = startAfter(
    await rewindTo(queries, subject.id, outdated ? -Infinity : dirty, foldVersion),
    material,
  );
  await forgetDecided(queries, subject.id, from.through);
  const base = Math.min(refold.base, since);
  const { because } = refold;
  const back = { base, foldVersion, through: from.through, foldedLives: material.lives, because };
  await putRefold(queries, subject.id, { ...back, state: JSON.stringify(from.state) });
  return { ...back, state: from.state };
}

async function growRefold(
  queries: Queries,
  subject: DueSubject,
  means: StepMeans,
  material: Material,
  given: Given,
  refold: Refold,
): Promise<StepOutcome> {
  const { base, foldVersion, through, state } = refold;
  const from = { version: foldVersion, through, state };
  const run = await foldFrom(queries, means, material, { from, since: base });
  if ('failed' in run) {
    await dropRefold(queries, subject.id);
    return failed(queries, subject, material, run.failed, base);
  }
  const kept = await readKept(queries, subject);
  const saving = {
    run,
    undecided: given,
    kept,
    since: base,
    keepCheckpoints: true,
    why: refold.because ?? IN_ORDER,
  };
  if (run.standing) {
    await saveReached(queries, subject, material, { ...saving, decided: 'of-generation' });
    return { kind: 'done' };
  }
  await saveGeneration(queries, subject, material, { ...saving, decided: NOTHING_DECIDED, base });
  if (given.work.earliest !== null) await addWork(queries, subject.id, Infinity);
  return { kind: 'more', turn: 'live' };
}

/**
 * Rows through the fold. Where the position doesn't move, because one signal is far behind, more rows are read: past
 * TAIL_BOUND of them that signal counts as unknown. A fold that throws is a defect of its own: it stops this subject, never
 * the others.
 */
async function foldFrom(
  queries: Queries,
  means: StepMeans,
  material: Material,
  { from, since }: Start,
): Promise<FoldRun | { readonly failed: string }> {
  const after = await firstRowAfter(queries, from, since);
  const now = material.now ?? from.through;
  const state = JSON.stringify(from.state);
  const most = Math.max(means.rows, 2 * TAIL_BOUND);
  try {
    for (let rows = means.rows; ; rows = Math.min(most, rows * 2)) {
      const started = means.run.clock();
      const stretch = await readStretch(queries, material, after, rows);
      const start = { ...from, state: JSON.parse(state) as unknown };
      const run = await runFold(
        material.fold,
        contextFor(material, stretch, from.through),
        start,
        stretch,
        now,
        means.run,
      );
      means.folded?.(rowsThrough(stretch.page, run.stored.through), means.run.clock() - started);
      if (run.standing || run.stored.through > from.through || rows >= most)
        return decidedAfter({ from, since }, run);
    }
  } catch (error) {
    if (isOfDatabase(error)) throw error;
    return { failed: error instanceof Error ? `${error.name}: ${error.message}` : String(error) };
  }
}

/** An error of the store is no fault of the fold: the whole step is tried again. */
const isOfDatabase = (error: unknown): boolean =>
  retryReason(error) !== null || (error instanceof Error && 'severity' in error);

async function failed(
  queries: Queries,
  subject: DueSubject,
  material: Material,
  reason: string,
  dirty: Instant,
): Promise<StepOutcome> {
  await stop(queries, subject, material, reason, dirty);
  return { kind: 'stopped', reason };
}
