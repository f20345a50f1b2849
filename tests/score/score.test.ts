import { describe, expect, it } from 'vitest';
import { runSetup } from './run-bench.ts';
import { FULL_ON_CHANGE, SETUPS } from './setups.ts';
import type { KindTally, SetupTally } from './tally.ts';

/**
 * A small run of the scoring bench (`npm run score` is the whole): nothing false is published as certain, nothing that the
 * tool's own statement says can't be known for certain is published so, and neither what is found nor what can be known
 * grows less. The shares are floors, just below what these very histories gave; whoever raises one writes it down here.
 */
interface Floor {
  readonly row: string;
  readonly seeds: readonly number[];
  /** of what can be known: found */
  readonly recall: number;
  /** of what truly happened: can be known, by the statement */
  readonly observable: number;
  /** of what it says can be known for certain: published so */
  readonly certain: number;
}
const first = (count: number): number[] => Array.from({ length: count }, (_, i) => i + 1);

const FLOORS: readonly Floor[] = [
  // the last one is delivered late as well
  { row: FULL_ON_CHANGE, seeds: [...first(10), 50], recall: 0.999, observable: 0.978, certain: 0.98 },
  { row: 'full, polled 1 s', seeds: first(2), recall: 0.986, observable: 0.802, certain: 0.917 },
  {
    row: 'no pressure contacts, on change',
    seeds: first(6),
    recall: 0.986,
    observable: 0.944,
    certain: 0.933,
  },
  { row: 'no alarm contact, on change', seeds: first(6), recall: 0.981, observable: 0.972, certain: 0.999 },
  { row: 'call and output, on change', seeds: first(6), recall: 0.961, observable: 0.776, certain: 0.999 },
  { row: 'call sensed upstream, on change', seeds: first(6), recall: 0.991, observable: 0.9, certain: 0.999 },
  { row: 'no call, on change', seeds: first(6), recall: 0.968, observable: 0.9, certain: 0.989 },
  {
    row: 'alarm shared by two units, on change',
    seeds: first(4),
    recall: 0.987,
    observable: 0.971,
    certain: 0.999,
  },
  {
    row: 'panel of three with line voltage, on change',
    seeds: first(4),
    recall: 0.999,
    observable: 0.951,
    certain: 0.942,
  },
  { row: 'panel of three, polled 10 s', seeds: first(1), recall: 0.999, observable: 0.64, certain: 0.965 },
];

const sum = (tally: SetupTally, of: (kind: KindTally) => number): number =>
  [...tally.kinds.values()].reduce((total, kind) => total + of(kind), 0);

describe('the score of a few unit-days', () => {
  it.each(FLOORS)('$row', ({ row, seeds, recall, observable, certain }) => {
    const tally = runSetup(
      SETUPS.find(({ name }) => name === row)!,
      { seeds },
    );
    const examples = tally.examples.join('\n');
    const all = (of: (kind: KindTally) => number): number => sum(tally, of);
    const known = all((kind) => kind.observable);
    const shares = {
      recall: all((kind) => kind.certain + kind.probable) / known,
      observable: known / all(({ truths }) => truths),
      certain: all(({ foundCertain }) => foundCertain) / (all(({ saidCertain }) => saidCertain) || 1),
    };
    const said = Object.entries(shares).map(([name, share]) => `${name} ${share.toFixed(4)}`);
    console.log(`${row}: ${known} events, ${said.join(', ')}`);
    expect(
      all(({ falseCertain }) => falseCertain),
      examples,
    ).toBe(0);
    expect(tally.beyondCertain, examples).toBe(0);
    expect(tally.falselyTogether, examples).toBe(0);
    expect(tally.lateUnequal, examples).toBe(0);
    expect(shares.recall).toBeGreaterThanOrEqual(recall);
    expect(shares.observable).toBeGreaterThanOrEqual(observable);
    expect(shares.certain).toBeGreaterThanOrEqual(certain);
  });
});
