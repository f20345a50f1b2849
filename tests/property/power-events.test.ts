import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { groupFacts, groupWith } from '../../shared/review/group.ts';
import type { SupplyFact, SupplyKind } from '../../shared/review/supply-fact.ts';

/** Which events are one power event never depends on the order in which they are given, and no link is ever lost. */
const RUNS = Number(process.env['POWER_EVENT_RUNS'] ?? 500);

const KINDS: readonly SupplyKind[] = [
  'power-loss',
  'voltage-sag',
  'restart-sequence',
  'simultaneous-start',
  'generator-supply',
];
const fact: fc.Arbitrary<Omit<SupplyFact, 'id'>> = fc
  .record({
    site: fc.constantFrom('elm', 'oak', 'yew'),
    panel: fc.constantFrom('panel-a', 'panel-b'),
    kind: fc.constantFrom(...KINDS),
    cause: fc.constantFrom('supply', 'unknown'),
    at: fc.integer({ min: 0, max: 4000 }),
    width: fc.constantFrom(0, 0.2, 10),
    lasts: fc.option(fc.integer({ min: 0, max: 600 })),
  })
  .map(({ site, panel, kind, cause, at, width, lasts }) => ({
    site,
    panel,
    unit: null,
    kind,
    cause: kind === 'power-loss' ? cause : null,
    certainty: 'certain' as const,
    start: { earliest: seconds(at - width), latest: seconds(at) },
    end: lasts === null ? null : seconds(at + lasts),
    residual: kind === 'voltage-sag' ? 0.7 : null,
    atOwnStart: false,
  }));
const facts = fc
  .array(fact, { maxLength: 30 })
  .map((list) => list.map((one, i): SupplyFact => ({ ...one, id: `event-${String(i).padStart(2, '0')}` })));
const doubt = (site: string): number => ({ elm: 0.05, oak: 1, yew: 3 })[site] ?? 0;

describe('power events', () => {
  it('are the same whatever order their facts come in, however often', () => {
    fc.assert(
      fc.property(facts, fc.infiniteStream(fc.double({ min: 0, max: 1, noNaN: true })), (list, dice) => {
        const shuffled = [...list, ...list.slice(0, 3)]
          .map((one) => ({ one, at: dice.next().value as number }))
          .sort((a, b) => a.at - b.at)
          .map(({ one }) => one);
        expect(groupFacts(shuffled, doubt)).toEqual(groupFacts(list, doubt));
      }),
      { numRuns: RUNS },
    );
  });

  it('keep each fact in one group alone, named by one of its own', () => {
    fc.assert(
      fc.property(facts, (list) => {
        const groups = groupFacts(list, doubt);
        const ids = groups.flatMap(({ sites }) => sites.flatMap((site) => site.facts.map(({ id }) => id)));
        expect(new Set(ids).size).toBe(ids.length);
        for (const group of groups) expect(groupWith(groups, group.id)).toBe(group);
      }),
      { numRuns: RUNS },
    );
  });

  it('answer to their old name when late facts come before, after or between', () => {
    fc.assert(
      fc.property(facts, fc.nat(), (list, cut) => {
        const early = list.filter((_, i) => i % 3 !== cut % 3);
        const whole = groupFacts(list, doubt);
        for (const { id, sites } of groupFacts(early, doubt)) {
          const now = groupWith(whole, id)!;
          const held = now.sites.flatMap((site) => site.facts.map((one) => one.id));
          for (const site of sites) for (const one of site.facts) expect(held).toContain(one.id);
        }
      }),
      { numRuns: RUNS },
    );
  });
});
