import { makeCase } from './case.ts';
import { conclude, toldAfter } from './run-case.ts';
import type { Row } from './setups.ts';
import { count, newTally, type SetupTally } from './tally.ts';

/** every so many histories is folded in steps too, to see how soon things are told */
const STEPPED = 25;

/** Runs one setup over seeds 1 to `histories`. */
export function runSetup(row: Row, histories: number): SetupTally {
  const tally = newTally();
  for (let seed = 1; seed <= histories; seed++) {
    const one = makeCase(seed, row);
    count(tally, one, conclude(one), seed % STEPPED === 0 ? toldAfter(one) : null);
  }
  return tally;
}
