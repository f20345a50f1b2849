import {
  isBehind,
  keepAtFloor,
  readLacking,
  readNewestBefore,
  type Floor,
  type KnownState,
} from '../../db/floor.ts';
import { addCheckpoint } from '../../db/follow-states.ts';
import { lockSubjects, unlockSubjects, type DueSubject } from '../../db/follow-work.ts';
import type { Database, Queries, Session } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { unfolded, type Folded } from '../../shared/inference/driver.ts';
import type { RecordPage } from '../../shared/inference/fold.ts';
import { snapshotOf } from '../follow/given.ts';
import { readMaterial, readStretch, type Folds, type Material } from '../follow/material.ts';
import { runFold, RUN_LIMITS } from '../follow/run-fold.ts';
import type { Setups } from '../follow/setup.ts';

/**
 * Every subject gets its checkpoint at the floor before anything is dropped: a state that has taken every row before it, made
 * from the newest checkpoint before it. Where there is none (the fold failed, or can't get through), one that knows nothing: a
 * re-fold then begins anew, with what the rows kept before the floor tell it. Each transaction is short; what is left waits
 * for the next call.
 */
export interface FloorMeans {
  readonly database: Database;
  readonly folds: Folds;
  readonly setups: Setups;
  /** rows of the record read at once */
  readonly rows: number;
}

const SUBJECTS = 200;

/** Answers whether every subject has its checkpoint at the floor. */
export async function makeFloor(means: FloorMeans, floor: Floor): Promise<boolean> {
  for (;;) {
    const lacking = await readLacking(means.database, floor, SUBJECTS);
    if (lacking.length === 0) return true;
    const made = await means.database.session(async (session) => {
      let count = 0;
      for (const subject of lacking) if (await keepOne(session, subject, means, floor)) count++;
      return count;
    });
    if (made === 0) return false; // all of them wait for inference
  }
}

/** Answers whether its checkpoint stands. */
async function keepOne(
  session: Session,
  subject: DueSubject,
  means: FloorMeans,
  floor: Floor,
): Promise<boolean> {
  const locked = await lockSubjects(session, [subject.id]);
  if (locked.length === 0) return false;
  try {
    for (;;) {
      const outcome = await session.transaction({ name: 'floor', isolation: 'repeatable read' }, (queries) =>
        step(queries, subject, means, floor),
      );
      if (outcome !== 'more') return outcome === 'kept';
    }
  } finally {
    await unlockSubjects(session, locked);
  }
}

async function step(
  queries: Queries,
  subject: DueSubject,
  means: FloorMeans,
  floor: Floor,
): Promise<'kept' | 'behind' | 'more'> {
  if (await isBehind(queries, subject.id, floor)) return 'behind';
  const material = await readMaterial(queries, subject, means.folds, snapshotOf(queries, means.setups));
  if (!material) return keep(queries, subject, { ...NOBODY, floor });
  const stamp = {
    configRevision: material.setup.revision,
    foldVersion: material.fold.version,
    floor,
  };
  const known = await readNewestBefore(queries, subject.id, stamp);
  const from = startOf(known, material);
  const stretch = await readStretch(queries, material, from.through, means.rows);
  const page = rowsBefore(stretch.page, floor.at);
  if (page.length === 0)
    return keep(
      queries,
      subject,
      known ? { ...stamp, ...asJson(from) } : { ...stamp, ...nothingKnown(floor) },
    );
  const run = await runFold(
    material.fold,
    material.context,
    from,
    { page, more: true },
    floor.at,
    RUN_LIMITS,
  ).catch(() => null);
  if (run === null || run.stored.through === from.through)
    return keep(queries, subject, { ...stamp, ...stuck(page, from, floor) });
  await addCheckpoint(queries, subject.id, { ...stamp, ...asJson(run.stored) });
  return 'more';
}

const NOBODY = { configRevision: 0, foldVersion: -1 };

const startOf = (known: KnownState | null, { fold }: Material): Folded =>
  known ? { version: fold.version, ...known } : unfolded(fold);

const asJson = ({ through, state }: Folded) => ({ through, state: JSON.stringify(state) });

/** Begins anew at the floor; what was decided before it stands. */
const nothingKnown = ({ at }: Floor) => ({ through: at - 1, state: 'null' });

/** The state stands where it is if the rows that it hasn't taken are kept; else what it would need is lost. */
const stuck = (page: RecordPage, from: Folded, floor: Floor) =>
  page.t[0]! >= floor.keptFrom && from.state !== null ? asJson(from) : nothingKnown(floor);

async function keep(
  queries: Queries,
  subject: DueSubject,
  kept: Omit<Parameters<typeof keepAtFloor>[2], 'through' | 'state'> & { through?: Instant; state?: string },
): Promise<'kept'> {
  await keepAtFloor(queries, subject.id, { ...nothingKnown(kept.floor), ...kept });
  return 'kept';
}

function rowsBefore(page: RecordPage, instant: Instant): RecordPage {
  let length = page.length;
  while (length > 0 && page.t[length - 1]! >= instant) length--;
  if (length === page.length) return page;
  return {
    length,
    t: page.t.slice(0, length),
    source: page.source.slice(0, length),
    value: page.value.slice(0, length),
    quality: page.quality.slice(0, length),
    ...(page.edges ? { edges: page.edges.slice(0, length) } : {}),
    ...(page.intervals ? { intervals: page.intervals.slice(0, length) } : {}),
  };
}
