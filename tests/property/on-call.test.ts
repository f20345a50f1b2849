import fc from 'fast-check';
import { expect, test } from 'vitest';
import { SECOND } from '../../shared/base/instant.ts';
import { personAt, turnsOf } from '../../shared/people/on-call.ts';
import type { Layer, Override } from '../../shared/people/roster.ts';
import { dateOfNumber, instantOfWall, wallOf } from '../../shared/people/wall-time.ts';
import { roster } from '../fixtures/roster.ts';

/** Calendars whatever the zone: wall time against the zone's own reading, shifts that tile time. */
const ZONES = [
  ...['America/New_York', 'America/Chicago', 'Europe/Berlin', 'Australia/Lord_Howe', 'Asia/Kathmandu'],
  ...[
    'Pacific/Apia',
    'Africa/Casablanca',
    'America/St_Johns',
    'Pacific/Chatham',
    'UTC',
    'Pacific/Kiritimati',
  ],
];
const zone = fc.constantFrom(...ZONES, ...Intl.supportedValuesOf('timeZone'));
const YEAR = 365 * 86_400 * SECOND;
const instant = fc.integer({ min: 40 * 366 * 86_400, max: 70 * 366 * 86_400 }).map((s) => s * SECOND);

test('a wall time that a clock showed stands for that instant, or for the earlier one that showed the same', () => {
  fc.assert(
    fc.property(instant, zone, (at, where) => {
      const shown = wallOf(at, where);
      const back = instantOfWall(shown, where);
      expect(back).toBeLessThanOrEqual(at);
      expect(wallOf(back, where)).toEqual(shown);
      // and no earlier instant within a day shows it: a coarse look, for changes are by quarters of an hour
      for (let earlier = back - 900 * SECOND; earlier > back - 86_400 * SECOND; earlier -= 900 * SECOND)
        expect(wallOf(earlier, where)).not.toEqual(shown);
    }),
    { numRuns: 300 },
  );
});

const person = fc.constantFrom('ann', 'ben', 'cid', 'dot');
const minutes = fc.integer({ min: 0, max: 1439 });
const dayIn2026 = fc.integer({ min: 20_454, max: 20_818 }).map(dateOfNumber);
const layers: fc.Arbitrary<Layer[]> = fc.array(
  fc.record({
    name: fc.constantFrom('low', 'middle', 'high'),
    people: fc.array(person, { maxLength: 3 }),
    startsOn: dayIn2026,
    endsOn: fc.option(dayIn2026, { nil: null }),
    handOver: minutes,
    days: fc.integer({ min: 1, max: 14 }),
    hours: fc.option(
      fc.record({ weekdays: fc.subarray([1, 2, 3, 4, 5, 6, 7]), from: minutes, to: minutes }),
      { nil: null },
    ),
    holidays: fc.constantFrom('as-ever', 'not', 'only'),
  }),
  { maxLength: 3 },
);
const from2026 = fc.integer({ min: 0, max: 364 * 86_400 }).map((s) => 20_454 * 86_400 * SECOND + s * SECOND);
const overrides: fc.Arbitrary<Override[]> = fc.array(
  fc
    .tuple(from2026, fc.integer({ min: 1, max: 10 * 86_400 }), person, fc.nat(5), fc.uuid())
    .map(([from, length, who, madeAt, id]) => ({
      id,
      from,
      to: from + length * SECOND,
      person: who,
      madeAt,
    })),
  { maxLength: 4 },
);

test('turns tile the time that was asked for: no overlap, no hole, whatever the zone and the layers', () => {
  fc.assert(
    fc.property(
      layers,
      overrides,
      zone,
      fc.array(dayIn2026, { maxLength: 3 }),
      from2026,
      (all, over, where, holidays, from) => {
        const plan = roster(all, { zone: where, holidays });
        const to = from + 40 * 86_400 * SECOND;
        const turns = turnsOf(plan, over, from, to);
        expect(turns[0]!.from).toBe(from);
        expect(turns.at(-1)!.to).toBe(to);
        for (const [n, turn] of turns.entries()) {
          expect(turn.from).toBeLessThan(turn.to);
          if (n > 0) expect(turn.from).toBe(turns[n - 1]!.to);
        }
        // the same whichever window one looks through
        for (const turn of turns.slice(0, 12))
          for (const at of [turn.from, turn.to - 1]) expect(personAt(plan, over, at)).toBe(turn.person);
      },
    ),
    { numRuns: 150 },
  );
});

test('a layer of one person without hours leaves no gap in its years', () => {
  fc.assert(
    fc.property(zone, minutes, fc.integer({ min: 1, max: 31 }), (where, handOver, days) => {
      const plan = roster(
        [
          {
            name: 'all',
            people: ['ann'],
            startsOn: { year: 2025, month: 1, day: 1 },
            endsOn: null,
            handOver,
            days,
            hours: null,
            holidays: 'as-ever',
          },
        ],
        { zone: where },
      );
      const from = 20_454 * 86_400 * SECOND;
      expect(turnsOf(plan, [], from, from + YEAR)).toHaveLength(1);
    }),
    { numRuns: 60 },
  );
});
