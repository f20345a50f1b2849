import { describe, expect, it } from 'vitest';
import { runSetup } from './run-bench.ts';
import { FULL_ON_CHANGE, SETUPS } from './setups.ts';
import type { KindTally, SetupTally } from './tally.ts';

/**
 * A small run of the scoring bench (`npm run score` is the whole): nothing false is published as certain, and neither what is
 * found nor what can be known grows less. The shares are floors, just below what these very histories gave; whoever
 * raises one writes it down here.
 */
const FLOORS: readonly (readonly [setup: string, histories: number, recall: number, observable: number])[] = [
  [FULL_ON_CHANGE, 12, 0.998, 0.98],
  ['full, polled 1 s', 3, 0.98, 0.85],
  ['no pressure contacts, on change', 8, 0.99, 0.937],
  ['no alarm contact, on change', 8, 0.98, 0.967],
  ['call and output, on change', 8, 0.97, 0.8],
  ['call sensed upstream, on change', 8, 0.99, 0.903],
  ['no call, on change', 8, 0.98, 0.904],
];

const sum = (tally: SetupTally, of: (kind: KindTally) => number): number =>
  [...tally.kinds.values()].reduce((total, kind) => total + of(kind), 0);

describe('the score of a few unit-days', () => {
  it.each(FLOORS)('%s', (name, histories, recall, observable) => {
    const tally = runSetup(
      SETUPS.find((row) => row.name === name)!,
      { seeds: Array.from({ length: histories }, (_, i) => i + 1) },
    );
    const falsely = sum(tally, ({ falseCertain }) => falseCertain);
    const seen = sum(tally, (kind) => kind.observable);
    const found = sum(tally, ({ certain, probable }) => certain + probable);
    const shares = `recall ${(found / seen).toFixed(4)}, observable ${(seen / sum(tally, (k) => k.truths)).toFixed(4)}`;
    console.log(`${name}: ${seen} events, ${shares}`);
    expect(falsely, tally.examples.join('\n')).toBe(0);
    expect(found / seen, shares).toBeGreaterThanOrEqual(recall);
    expect(seen / sum(tally, ({ truths }) => truths), shares).toBeGreaterThanOrEqual(observable);
  });
});
