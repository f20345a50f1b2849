import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import {
  arrangeFew,
  compareCosts,
  inversionsOf,
  mayStartTogether,
  type ArrangeAsk,
  type Cost,
  type Option,
  type Picked,
} from '../../shared/stagger/arrange.ts';
import { arrangeMany, costOf } from '../../shared/stagger/arrange-many.ts';
import { arrangeAsk, planStagger } from '../../shared/stagger/plan.ts';
import type { PlanUnit } from '../../shared/stagger/waits.ts';
import { planAsk, planUnit } from '../fixtures/stagger.ts';

/** The planner against every arrangement there is, and its promises against timers and dials that are off. */
const RUNS = Number(process.env['PROPERTY_RUNS'] ?? 300);

/** Few settings, so that everything can be tried: three to five for seven units. */
const panel = (most: number) =>
  fc.record({
    units: fc.array(
      fc.record({
        offDelay: fc.constantFrom(180, 190, 210, 240, 270, 300),
        known: fc.constantFrom('recorded', 'recorded', 'assumed') as fc.Arbitrary<PlanUnit['known']>,
        amps: fc.constantFrom(40, 60, 96, 96, null),
        base: fc.constantFrom(120, 120, 120, 123),
        seen: fc.option(fc.tuple(fc.integer({ min: 1370, max: 1510 }), fc.integer({ min: 0, max: 9 })), {
          freq: 3,
        }),
      }),
      { minLength: 2, maxLength: most },
    ),
    step: fc.constantFrom(30, 40, 60),
    spacing: fc.constantFrom(1, 2, 3, 5),
    hold: fc.constantFrom('worst-case', 'timers', 'nominal') as fc.Arbitrary<
      'worst-case' | 'timers' | 'nominal'
    >,
    capacity: fc.constantFrom(0, 100, 160, 250, null),
  });
type Panel = typeof panel extends (most: number) => fc.Arbitrary<infer P> ? P : never;

const unitsOf = ({ units }: Panel): PlanUnit[] =>
  units.map(({ base, seen, ...rest }, i) =>
    planUnit(`unit-${i}`, rest.offDelay, {
      ...rest,
      powerUpBase: base,
      seen: { powerUp: seen ? [seen[0] / 10, (seen[0] + seen[1]) / 10] : null, offDelay: null },
    }),
  );
const askOf = (one: Panel): ArrangeAsk =>
  arrangeAsk(
    planAsk(unitsOf(one), { spacing: one.spacing, settable: { step: one.step, floor: 180, most: 300 } }),
    one.hold,
    one.capacity,
  );

/** The cost of an assignment by the definition itself: groups are what the waits leave unparted. */
function costByDefinition(picked: readonly Picked[], { spacing, capacity }: ArrangeAsk): Cost | null {
  const sorted = picked.toSorted((a, b) => a.option.wait[0] - b.option.wait[0]);
  const groups: Picked[][] = [];
  let end = -Infinity;
  for (const one of sorted) {
    if (one.option.wait[0] >= end + spacing - 1e-9) groups.push([]);
    groups.at(-1)!.push(one);
    end = Math.max(end, one.option.wait[1]);
  }
  const candidates = (group: readonly Picked[]) => group.map(({ candidate }) => candidate);
  if (!groups.every((group) => mayStartTogether(candidates(group), capacity))) return null;
  let inversions = 0;
  for (const [i, group] of groups.entries())
    inversions += inversionsOf(groups.slice(0, i).flatMap(candidates), candidates(group));
  return [
    picked.length - groups.length,
    picked.filter(({ option }) => option.isChange).length,
    inversions,
    Math.max(0, ...picked.map(({ candidate, option }) => option.nominal - candidate.now)),
    picked.reduce((sum, { option }) => sum + option.nominal, 0),
  ];
}

function bestOfAll(ask: ArrangeAsk): Cost | null {
  let best: Cost | null = null;
  const picked: Picked[] = [];
  const go = (i: number): void => {
    const candidate = ask.candidates[i];
    if (!candidate) {
      const cost = costByDefinition(picked, ask);
      if (cost && (!best || compareCosts(cost, best) < 0)) best = cost;
      return;
    }
    const options: Option[] = [...(candidate.kept ? [candidate.kept] : []), ...candidate.settable];
    for (const option of options) {
      picked.push({ candidate, option });
      go(i + 1);
      picked.pop();
    }
  };
  go(0);
  return best;
}

const rounded = (cost: Cost | null | undefined) => cost && cost.map((part) => Math.round(part * 1e6) / 1e6);

describe('the planner', () => {
  it('finds the best of all arrangements, for up to five units', () => {
    fc.assert(
      fc.property(panel(5), (one) => {
        const ask = askOf(one);
        expect(rounded(arrangeFew(ask)?.cost ?? null)).toEqual(rounded(bestOfAll(ask)));
      }),
      { numRuns: RUNS },
    );
  });

  it('and for six and seven', () => {
    fc.assert(
      fc.property(
        panel(7).filter(({ units }) => units.length > 5),
        (one) => {
          const ask = askOf({ ...one, step: 60 });
          expect(rounded(arrangeFew(ask)?.cost ?? null)).toEqual(rounded(bestOfAll(ask)));
        },
      ),
      { numRuns: Math.ceil(RUNS / 20) },
    );
  });

  it('for many, where all controls count alike: as few in company and as few changes as the exact one, where all are apart', () => {
    let apart = 0;
    fc.assert(
      fc.property(panel(7), (one) => {
        const ask = askOf({ ...one, units: one.units.map((unit) => ({ ...unit, base: 120 })), capacity: 0 });
        const [few, many] = [arrangeFew(ask), arrangeMany(ask)];
        expect(many === null).toBe(few === null);
        if (!few || !many) return;
        apart++;
        expect(many.cost.slice(0, 2)).toEqual(few.cost.slice(0, 2));
        expect(costByDefinition(many.groups.flat(), ask)!.slice(0, 2)).toEqual(many.cost.slice(0, 2));
        expect(rounded(many.cost)).toEqual(rounded(costOf(many.groups)));
      }),
      { numRuns: RUNS },
    );
    expect(apart).toBeGreaterThan(RUNS / 10);
  });

  it('groups of many stay within what may start together', () => {
    fc.assert(
      fc.property(panel(7), (one) => {
        const ask = askOf(one);
        const many = arrangeMany(ask);
        if (!many) return;
        expect(many.groups.flat()).toHaveLength(ask.candidates.length);
        expect(costByDefinition(many.groups.flat(), ask), JSON.stringify(many.groups)).not.toBeNull();
      }),
      { numRuns: RUNS },
    );
  });
});

describe('what is promised', () => {
  it('holds however timers and dials are off within what was allowed for', () => {
    const share = fc.double({ min: -1, max: 1, noNaN: true });
    let promised = 0;
    fc.assert(
      fc.property(
        panel(5),
        fc.array(fc.tuple(share, share), { minLength: 5, maxLength: 5 }),
        fc.boolean(),
        (one, off, extreme) => {
          const units = unitsOf({ ...one, units: one.units.slice(0, 3) });
          const ask = planAsk(units, {
            spacing: one.spacing,
            hold: one.hold === 'nominal' ? 'timers' : one.hold,
          });
          const plan = planStagger(ask);
          if (plan.outcome !== 'apart') return;
          promised++;
          const at = (value: number) => (extreme ? Math.sign(value) : value);
          const starts = plan.units.map(({ id, by, proposed }, i) => {
            const unit = units.find((each) => each.id === id)!;
            const [timer, dial] = [at(off[i]![0]), at(off[i]![1])];
            if (by === 'measured') {
              const [low, high] = unit.seen.powerUp!;
              return ((low + high) / 2 + (dial * (high - low)) / 2) * (1 + ask.errors.repeat * timer);
            }
            const set = proposed.offDelay + (plan.hold === 'worst-case' ? unit.settingError * dial : 0);
            return (unit.powerUpBase + unit.powerUpShare * set) * (1 + ask.errors.tolerance * timer);
          });
          for (let i = 1; i < starts.length; i++)
            expect(starts[i]! - starts[i - 1]!).toBeGreaterThanOrEqual(one.spacing - 1e-6);
        },
      ),
      { numRuns: RUNS * 3 },
    );
    expect(promised).toBeGreaterThan(RUNS / 4);
  });
});

describe('forty units', () => {
  const forty = Array.from({ length: 40 }, (_, i) =>
    planUnit(`unit-${i}`, 30 + ((i * 7) % 28) * 10, { amps: 40 + ((i * 13) % 60) }),
  );

  it('are planned in work that is bounded by places × units', () => {
    const ask = planAsk(forty, { spacing: 0.5, settable: { step: 1, floor: 30, most: 300 } });
    const began = performance.now();
    const plan = planStagger(ask);
    const took = performance.now() - began;
    console.log(
      `forty units, 271 settings: ${plan.steps} steps, ${took.toFixed(0)} ms, ${plan.outcome}, ${plan.changes} changes`,
    );
    expect(plan).toMatchObject({ outcome: 'apart', hold: 'nominal' });
    for (const { nominal } of plan.spacings) expect(nominal).toBeGreaterThanOrEqual(0.5 - 1e-9);
    // (settings + units) × units, for each of at most ten plans
    expect(plan.steps).toBeLessThan((271 + 40) * 40 * 10);
  });

  const recorded = forty.map((unit, i) => ({ ...unit, offDelay: 180 + (i % 13) * 10 }));
  it('start in groups where they don’t fit', () => {
    const plan = planStagger(planAsk(recorded, { spacing: 3, hold: 'timers' }));
    expect(plan.outcome).toBe('groups');
    expect(plan.groups).toHaveLength(3);
  });
});
