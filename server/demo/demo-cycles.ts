import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { CYCLE } from '../../shared/building/scenarios/demo.ts';

const LENGTH = CYCLE.seconds * SECOND;
const LEAD = CYCLE.lead * SECOND;
/** from going live to the named instant of the first cycle */
const FIRST_AFTER = 25 * SECOND;
/** the next cycle is put down this long before its first edge */
const AHEAD = 60 * SECOND;
const KEPT = 2 * 86_400 * SECOND;

/**
 * The cycles of the live part, known ahead: while someone may be looking they follow each other without a break. After
 * a longer pause a new row begins soon after the start. `through` is what has already happened: no cycle may begin in it.
 */
export function planCycles(
  cycles: readonly Instant[],
  { through, now }: { readonly through: Instant; readonly now: Instant },
): readonly Instant[] {
  const kept = cycles.filter((at) => at > through - KEPT);
  const last = kept.at(-1);
  if (last === undefined || now - last > 2 * LENGTH)
    kept.push(Math.max(now + FIRST_AFTER, through + LEAD + 1));
  while (kept.at(-1)! + LENGTH - LEAD - AHEAD <= now) kept.push(kept.at(-1)! + LENGTH);
  return kept.length === cycles.length && kept.at(-1) === last ? cycles : kept;
}
