import { readFloor } from '../../db/floor.ts';
import type { Checkpoint } from '../../db/follow-states.ts';
import type { Queries } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { BEGINNING, unfolded, type Folded } from '../../shared/inference/driver.ts';
import type { Material } from './material.ts';
import type { FoldRun } from './run-fold.ts';

/** Where a fold that goes back begins, and what it may not change (architecture 4, "Floor"). */
export interface Start {
  readonly from: Folded;
  /** what was decided up to here stands, whatever is folded again */
  readonly since: Instant;
}

/**
 * From a checkpoint; or from the beginning. At the floor, where the checkpoint that is kept is of no use to this code, it begins
 * with nothing known at the first row that is kept, and what it says of the time before the floor isn't heard.
 */
export function startAfter(checkpoint: Checkpoint | null, { fold }: Pick<Material, 'fold'>): Start {
  if (checkpoint === null) return { from: unfolded(fold), since: BEGINNING };
  const { through, state, isUsable } = checkpoint;
  return { from: isUsable ? { version: fold.version, through, state } : unfolded(fold), since: through };
}

/** A fold that begins anew at the floor reads what is kept: of units' edges more is there than of samples. */
export async function firstRowAfter(
  queries: Queries,
  { through, state }: Folded,
  since: Instant,
): Promise<Instant> {
  if (state !== null || since <= through) return through;
  const floor = await readFloor(queries);
  return floor ? Math.max(through, floor.keptFrom - 1) : through;
}

/** While the fold is still on its way to where it may decide, what it says stands already. */
export function decidedAfter({ from, since }: Start, run: FoldRun): FoldRun {
  if (from.through >= since) return run;
  const isAfter = ({ at }: { readonly at: Instant }): boolean => at > since;
  const { events, edges } = run.settled;
  return {
    ...run,
    settled: { events: events.filter(isAfter), edges: edges.filter(isAfter) },
    checkpoints: run.checkpoints.filter(({ through }) => through > since),
  };
}
