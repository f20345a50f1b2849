import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import { compareSpaces } from '../../shared/cooling/compare-spaces.ts';
import { addDoubt, addKnown, carries, fewest, loadOf, type Quarter } from '../../shared/cooling/load.ts';
import { isTelling, withPeriod, type OffPeriod } from '../../shared/cooling/off-period.ts';
import { fitWarmUp } from '../../shared/cooling/warm-up-fit.ts';
import { cycled, WarmingRoom } from '../fixtures/warming-room.ts';

/** Can the rest carry it (handbook 6): run fractions of the last hours added up against the units left. */
describe('the load of a space', () => {
  /** each unit on for the first so many seconds of every quarter of an hour */
  function quarters(on: Readonly<Record<string, number>>, hours: number): Quarter[] {
    const kept: Quarter[] = [];
    for (let from = 0; from < hours * 3600; from += 900)
      for (const [unit, length] of Object.entries(on)) {
        addKnown(kept, unit, seconds(from), seconds(from + length), true);
        addKnown(kept, unit, seconds(from + length), seconds(from + 900), false);
      }
    return kept;
  }

  it('two units that ran 0.30 and 0.25 of the time add up to 0.55: one can carry it (handbook 7)', () => {
    const { sum, seconds: length } = loadOf(quarters({ a: 270, b: 225 }, 5), ['a', 'b'], seconds(5 * 3600));
    expect(length).toBe(3 * 3600);
    expect(sum![0]).toBeCloseTo(0.55, 9);
    expect(sum![1]).toBeCloseTo(0.55, 9);
    expect([carries(sum, 2), carries(sum, 1), carries(sum, 0)]).toEqual(['yes', 'yes', 'no']);
    expect(fewest(sum, 2)).toBe(1);
  });

  it('1.2 units’ worth: one can’t; three quarters of an hour of a unit unknown: can’t be told', () => {
    const two = quarters({ a: 540, b: 540 }, 3);
    const { sum } = loadOf(two, ['a', 'b'], seconds(3 * 3600));
    expect([carries(sum, 1), fewest(sum, 2)]).toEqual(['no', 2]);
    expect(loadOf(two, ['a', 'b', 'c'], seconds(3 * 3600)).sum).toBeNull();
    expect(carries(null, 1)).toBe('not-known');
  });

  it('with one that never rests nothing is to spare', () => {
    const { sum } = loadOf(quarters({ a: 900, b: 900 }, 3), ['a', 'b'], seconds(3 * 3600));
    expect(fewest(sum, 2)).toBeNull();
  });

  it('polled starts and stops make it an interval', () => {
    const kept = quarters({ a: 450 }, 3);
    addDoubt(kept, 'a', seconds(9000), 60, 'on');
    addDoubt(kept, 'a', seconds(9450), 120, 'off');
    const { units } = loadOf(kept, ['a'], seconds(3 * 3600));
    expect(units['a']![0]).toBeCloseTo(0.5 - 120 / 10_800, 9);
    expect(units['a']![1]).toBeCloseTo(0.5 + 60 / 10_800, 9);
  });

  it('what is remembered of a room’s warming stays below 24 KB, however long it is watched', () => {
    const warming = new WarmingRoom({
      air: 2e6,
      mass: 6e6,
      coupling: 400,
      conductance: 60,
      heat: () => 1500,
      outdoors: (t) => 28 + 5 * Math.sin((2 * Math.PI * t) / 86_400),
      capacity: 6000,
      noise: 0.05,
    });
    const kept = cycled(warming, 60, 22.123, 25.321)
      .filter(isTelling)
      .reduce<OffPeriod[]>((all, period) => withPeriod(all, period), []);
    expect(kept.length).toBe(24);
    const fit = fitWarmUp(kept)!;
    expect(fit.fitting.length).toBeGreaterThan(1);
    expect(JSON.stringify({ kept, fit }).length).toBeLessThan(24_000);
  });
});

describe('a site’s spaces in the same hour (handbook 4 rule 12)', () => {
  it('9 of 24 rooms run without stop: a hot day; one rises 1.1 K/h faster than its neighbours', () => {
    const rooms = Array.from({ length: 24 }, (_, i) => ({
      id: `room-${i + 1}`,
      fraction: (i < 9 ? [1, 1] : [0.7, 0.72]) as readonly [number, number],
      rise: i === 11 ? 1.3 : 0.2,
    }));
    const found = compareSpaces(rooms);
    expect(found).toMatchObject({ known: 24, withoutStop: 9, faster: [{ id: 'room-12' }] });
    expect(found.faster[0]!.by).toBeCloseTo(1.1, 9);
  });

  it('what isn’t known or measured takes no part', () => {
    const found = compareSpaces([
      { id: 'a', fraction: null, rise: 3 },
      { id: 'b', fraction: [0.97, 1], rise: null },
    ]);
    expect(found).toEqual({ known: 1, withoutStop: 0, faster: [] });
  });
});
