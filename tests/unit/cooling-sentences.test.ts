import { describe, expect, it } from 'vitest';
import type { CoolingAnswer, SpaceCooling, UnitCycling } from '../../shared/wire/cooling-answer.ts';
import {
  comparisonText,
  cyclingText,
  fitText,
  forecastText,
  loadText,
  withoutText,
} from '../../shared/wire/cooling-sentences.ts';
import { SHELTER } from '../fixtures/cooled-shelter.ts';

/** What is said of cooling (handbook 6 and 7, first lines of "must I go now?"). */
const clock = (t: number): string => new Date(t / 1000).toISOString().slice(11, 16);
const SPACE: SpaceCooling = { ...SHELTER, units: ['a', 'b'] };
const space = (more: Partial<SpaceCooling>): SpaceCooling => ({ ...SPACE, ...more });
const LATE = { soonest: '2026-03-03T03:20:00Z', latest: '2026-03-03T03:40:00Z' };

describe('a space’s cooling', () => {
  it.each([
    [{ forecast: LATE, unable: ['a', 'b'] }, '35 °C between 03:20 and 03:40.'],
    [{ forecast: { ...LATE, latest: null }, unable: ['a', 'b'] }, '35 °C at 03:20 at the soonest.'],
    [{ unable: ['a'], measured: false }, 'Can’t be told: no room temperature.'],
    [{ unable: ['a'], limit: null }, 'Can’t be told: no limit is recorded for this room.'],
    [{ unable: ['a'] }, null],
    [{}, null],
  ])('forecast %#', (more, says) => {
    expect(forecastText(space(more), clock)).toBe(says);
  });

  it.each([
    [{}, 'Over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.'],
    [{ unable: ['a', 'b'] }, 'Over the last 3 h the two units’ run fractions add up to 0.55; none can run.'],
    [
      { unable: ['a'], load: { seconds: 10_800, sum: [1.3, 1.4] as const, fewest: 2 } },
      'Over the last 3 h the two units’ run fractions add up to 1.30–1.40; one can run.',
    ],
    [
      { load: { seconds: 10_800, sum: [1.3, 1.4] as const, fewest: 2 } },
      'Over the last 3 h the two units’ run fractions add up to 1.30–1.40, so all are needed.',
    ],
    [
      { load: { seconds: 10_800, sum: [2, 2] as const, fewest: null } },
      'Over the last 3 h the two units’ run fractions add up to 2.00: nothing is to spare.',
    ],
    [{ units: ['a'] }, 'Over the last 3 h its unit ran 55 % of the time.'],
    [
      { units: ['a'], load: { seconds: 10_800, sum: [0, 0] as const, fewest: 1 } },
      'Over the last 3 h its unit didn’t run.',
    ],
    [
      { units: ['a'], load: { seconds: 10_800, sum: [0.1, 0.2] as const, fewest: 1 } },
      'Over the last 3 h its unit ran 10–20 % of the time.',
    ],
    [
      { load: { seconds: 10_800, sum: null, fewest: null } },
      'Whether fewer units can carry it can’t be told: how much each ran isn’t known, or is no measure of cooling.',
    ],
    [{ load: null }, null],
  ])('load %#', (more, says) => {
    expect(loadText(space(more))).toBe(says);
  });

  it.each([
    [{}, 'Without any cooling: 35 °C between 04:10 and 04:40.'],
    [{ without: null }, 'Without any cooling: it wouldn’t come to its limit, as far as can be told.'],
    [{ without: null, fit: null }, 'Without any cooling: can’t be told yet, no warm-up has been seen.'],
    [{ measured: false }, 'Without any cooling: can’t be told, no room temperature.'],
  ])('without %#', (more, says) => {
    expect(withoutText(space(more), clock)).toBe(says);
  });

  it('says what the time to the limit leans on', () => {
    expect(fitText(SPACE)).toBe(
      'Two masses, fitted to 23 stretches without any unit running, the longest 21:10: time constant 3 h 20 min–11 h 6 min, settles 18 to 37 K above outdoors. The range holds every warming that fits them.',
    );
    expect(fitText(space({ fit: null, offPeriods: 1 }))).toBe(
      'Too little to fit (1 stretch without any unit running, 3 are needed): only the fastest rise that was seen.',
    );
    expect(fitText(space({ fit: null, outdoorsMeasured: false }))).toBe(
      'Too little to fit (no temperature outdoors): only the fastest rise that was seen.',
    );
  });
});

describe('a unit’s cycling', () => {
  const unit: UnitCycling = {
    id: 'a',
    from: '2026-03-02T00:00:00Z',
    to: '2026-03-03T00:00:00Z',
    knownSeconds: 86_400,
    unknownSeconds: 0,
    runFraction: [0.42, 0.44],
    starts: 55,
    startsPerHour: 2.3,
    mostInAnHour: 4,
    on: null,
    off: null,
    cut: 1,
    curve: [2.4, 2.5],
    hours: [],
  };
  it('in one line, with what isn’t known', () => {
    expect(cyclingText(unit)).toBe('Ran 0.42–0.44 of the last 24 h, 2.3 starts an hour, at most 4 in one.');
    expect(cyclingText({ ...unit, unknownSeconds: 7200 })).toMatch(/Not known for 2 h, which is left out\.$/);
    expect(cyclingText({ ...unit, runFraction: null })).toBe('Whether it ran in the last 24 h isn’t known.');
  });
});

describe('a site’s rooms beside each other', () => {
  const answer: CoolingAnswer = {
    site: 'harrow-lane',
    serverTime: '2026-07-02T20:00:00Z',
    outdoors: 37,
    comparison: { known: 24, withoutStop: 9, faster: [{ id: 'room-12', by: 1.1 }] },
    spaces: [space({ id: 'room-12', name: 'Room 12' })],
    units: [],
  };
  it('the day, or this room (handbook 4 rule 12)', () => {
    expect(comparisonText(answer)).toBe(
      '9 of 24 rooms run without a stop at 37 °C outside: a hot day. Room 12 rises 1.1 K/h faster than its neighbours: look there.',
    );
    const calm = { ...answer, outdoors: null, comparison: { known: 24, withoutStop: 1, faster: [] } };
    expect(comparisonText(calm)).toBe('1 of 24 rooms runs without a stop.');
    expect(comparisonText({ ...answer, comparison: { known: 1, withoutStop: 1, faster: [] } })).toBeNull();
  });
});
