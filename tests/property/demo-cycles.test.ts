import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { planCycles } from '../../server/demo/demo-cycles.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import { CYCLE } from '../../shared/building/scenarios/demo.ts';

const LENGTH = CYCLE.seconds * SECOND;
const LEAD = CYCLE.lead * SECOND;
const START = 1_000_000 * SECOND;

/** Times at which the runner looks: steps of a live run, and pauses in which it was stopped. */
const steps = fc.array(
  fc.oneof(
    fc.record({ live: fc.constant(true), seconds: fc.integer({ min: 1, max: 60 }) }),
    fc.record({ live: fc.constant(false), seconds: fc.integer({ min: 1, max: 100_000 }) }),
  ),
  { minLength: 1, maxLength: 120 },
);

describe('the cycles of the demonstration', () => {
  it('never begin in what has already been told, never overlap, and are always ahead while it is live', () => {
    fc.assert(
      fc.property(steps, (list) => {
        let cycles: readonly Instant[] = planCycles([], { through: START - LENGTH, now: START });
        let [now, through] = [START, START];
        for (const { seconds } of list) {
          now += seconds * SECOND;
          const before = cycles;
          cycles = planCycles(cycles, { through, now });
          for (const at of cycles) if (!before.includes(at)) expect(at - LEAD).toBeGreaterThan(through);
          for (let i = 1; i < cycles.length; i++)
            expect(cycles[i]! - cycles[i - 1]!).toBeGreaterThanOrEqual(LENGTH);
          expect(cycles.at(-1)! + LENGTH - LEAD).toBeGreaterThan(now);
          through = now;
        }
      }),
      { numRuns: 2000 },
    );
  });
});
