import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import { clockByArrival, type ArrivalBin } from '../../shared/inference/gateway/arrival-clock.ts';
import { clockDifference, type SupplyEdge } from '../../shared/inference/gateway/shared-edges.ts';

/**
 * Two gateways that see the same outages, one with its clock off: what is said of the difference holds the truth, and
 * clocks that agree are never said to differ. Whatever outages there were, however each is reported.
 */
const CASES = Number(process.env['CLOCK_CASES'] ?? 1000);
const again = { numRuns: CASES, seed: 20_261_126 };

const outages = (least: number) =>
  fc.array(
    fc.record({ after: fc.integer({ min: 700, max: 90_000 }), length: fc.integer({ min: 2, max: 1500 }) }),
    { minLength: least, maxLength: 8 },
  );
const reporting = fc.constantFrom<('on-change' | number)[]>('on-change', 1, 5);

type Seen = { readonly to: 'away' | 'back'; readonly t: Instant };
function inTime(list: readonly { readonly after: number; readonly length: number }[]): Seen[] {
  let t = 0;
  return list.flatMap(({ after, length }) => {
    const away = (t += after);
    const back = (t += length);
    return [
      { to: 'away' as const, t: seconds(away) },
      { to: 'back' as const, t: seconds(back) },
    ];
  });
}

/** As the gateway tells it, on its own clock. */
const toldBy = (
  gateway: string,
  seen: readonly Seen[],
  how: 'on-change' | number,
  ahead: number,
): SupplyEdge[] =>
  seen.map(({ to, t }) => {
    const at = t + seconds(ahead);
    const period = how === 'on-change' ? 0 : seconds(how);
    const earliest = period ? Math.floor((at - 1) / period) * period : at - seconds(0.1);
    const span = { earliest, latest: period ? earliest + period : at + seconds(0.1) };
    return { gateway, key: `${gateway}/line-voltage`, panel: 'panel-a', to, span };
  });

const PAIR = { a: 'east', b: 'west', uncertaintySeconds: 2 };

describe('clocks of two gateways on one panel', () => {
  it(`that differ are told apart by three outages and more, and the truth lies within (${CASES} cases)`, () => {
    let told = 0;
    const ahead = fc.integer({ min: -4000, max: 4000 }).filter((by) => Math.abs(by) > 10);
    fc.assert(
      fc.property(outages(3), reporting, reporting, ahead, (list, east, west, by) => {
        const seen = inTime(list);
        const edges = [...toldBy('east', seen, east, 0), ...toldBy('west', seen, west, by)];
        const found = clockDifference(edges, PAIR);
        if (!found) return;
        told++;
        expect(found.aheadSeconds[0]).toBeLessThanOrEqual(by);
        expect(found.aheadSeconds[1]).toBeGreaterThanOrEqual(by);
        expect(found.shared.length).toBeGreaterThanOrEqual(4);
      }),
      again,
    );
    console.log(`${CASES} pairs of clocks that differ, ${told} told, the truth within every one`);
    expect(told / CASES).toBeGreaterThan(0.95);
  });

  it(`that agree are never said to differ, though each misses outages (${CASES} cases)`, () => {
    const missed = fc.array(fc.nat(15), { maxLength: 4 });
    fc.assert(
      fc.property(outages(1), reporting, reporting, missed, missed, (list, east, west, notEast, notWest) => {
        const seen = inTime(list);
        const without = (some: readonly number[]) => seen.filter((_, i) => !some.includes(i));
        const edges = [
          ...toldBy('east', without(notEast), east, 0),
          ...toldBy('west', without(notWest), west, 0.5),
        ];
        const found = clockDifference(edges, PAIR);
        // an outage that each saw half of may fit one of another: then nothing that both saw stands against it
        if (found) expect(notEast.length + notWest.length).toBeGreaterThan(0);
        if (found) expect(found.certainty).toBe('possible');
      }),
      again,
    );
  });

  it('in the order in which edges are listed doesn’t matter', () => {
    fc.assert(
      fc.property(outages(2), fc.integer({ min: 20, max: 900 }), fc.nat(), (list, by, turn) => {
        const seen = inTime(list);
        const edges = [...toldBy('east', seen, 5, 0), ...toldBy('west', seen, 'on-change', by)];
        const turned = [...edges.slice(turn % edges.length), ...edges.slice(0, turn % edges.length)];
        expect(clockDifference(turned, PAIR)?.aheadSeconds).toEqual(
          clockDifference(edges, PAIR)?.aheadSeconds,
        );
      }),
      { ...again, numRuns: 200 },
    );
  });
});

describe('a clock judged by arrival', () => {
  const bin = fc.record({
    live: fc.boolean(),
    transit: fc.double({ min: 0, max: 3, noNaN: true }),
    late: fc.integer({ min: 60, max: 40_000 }),
  });
  const binsOf = (
    list: readonly { live: boolean; transit: number; late: number }[],
    ahead: number,
  ): ArrivalBin[] =>
    list.map(({ live, transit, late }, i) => ({
      at: seconds(i * 600),
      count: 10,
      leastSeconds: transit - ahead + (live ? 0 : late),
    }));

  it(`is said to be ahead by what it is, however much backlog comes between (${CASES} cases)`, () => {
    fc.assert(
      fc.property(
        fc.array(bin, { minLength: 4, maxLength: 200 }),
        fc.integer({ min: 15, max: 7200 }),
        (list, by) => {
          const found = clockByArrival(binsOf(list, by), [], 1);
          const newest = list.slice(-6);
          if (found && newest.some(({ live }) => live)) {
            expect(found.certainty).toBe('certain');
            expect(found.aheadSeconds).toBeLessThanOrEqual(by + 1e-6);
            expect(found.aheadSeconds).toBeGreaterThanOrEqual(by - 3);
          }
          const corrected = [{ from: -Infinity, before: Infinity, by: seconds(-by) }];
          if (newest.some(({ live }) => live))
            expect(clockByArrival(binsOf(list, by), corrected, 1)).toBeNull();
        },
      ),
      again,
    );
  });

  it('that is right is never said to be ahead, whatever comes late', () => {
    fc.assert(
      fc.property(fc.array(bin, { minLength: 1, maxLength: 100 }), (list) => {
        const found = clockByArrival(binsOf(list, 0), [], 1);
        expect(found?.certainty ?? 'probable').toBe('probable');
        expect(found ? found.aheadSeconds : 0).toBeLessThanOrEqual(0);
      }),
      again,
    );
  });

  it('that is behind shows by two hours of lateness that nothing undercuts', () => {
    const behind = (count: number) =>
      Array.from({ length: count }, (_, i) => ({
        at: seconds(i * 600),
        count: 5,
        leastSeconds: 200 + (i % 3),
      }));
    expect(clockByArrival(behind(11), [], 1)).toBeNull();
    expect(clockByArrival(behind(12), [], 1)).toMatchObject({
      aheadSeconds: -200,
      certainty: 'probable',
      bins: 12,
    });
    const draining = Array.from({ length: 30 }, (_, i) => ({
      at: seconds(i * 600),
      count: 50,
      leastSeconds: 20_000 - i * 600,
    }));
    expect(clockByArrival(draining, [], 1)).toBeNull();
  });

  it('that was set wrong on a day is off from then on', () => {
    const bins = Array.from({ length: 60 }, (_, i) => ({
      at: seconds(i * 600),
      count: 5,
      leastSeconds: i < 30 ? 0.4 : -199.6,
    }));
    const found = clockByArrival(bins, [], 1)!;
    expect(found).toMatchObject({ aheadSeconds: 199.6, beganSeen: true, bins: 30 });
    expect(inSeconds(found.from)).toBe(30 * 600);
  });
});
