import { makeCase } from './case.ts';
import { conclude, toldAfter } from './run-case.ts';
import type { Row } from './setups.ts';
import { count, newTally, type SetupTally } from './tally.ts';

/** every so many histories is folded in steps too, to see how soon things are told */
const STEPPED = 25;

/** Runs one setup over these seeds; `faults` limits what befalls the unit, `isShown` which examples are kept. */
export function runSetup(
  row: Row,
  seeds: readonly number[],
  faults: readonly string[] | null = null,
  isShown: (line: string) => boolean = () => true,
): SetupTally {
  const tally = newTally(isShown);
  for (const seed of seeds) {
    const one = makeCase(seed, row, faults);
    count(tally, one, conclude(one), seed % STEPPED === 0 ? toldAfter(one) : null);
  }
  return tally;
}
