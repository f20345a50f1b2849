import { describe, expect, test } from 'vitest';
import { parseInstant } from '../../shared/base/instant.ts';
import type { SpaceCooling } from '../../shared/wire/cooling-answer.ts';
import { coolingLines, needsByOf } from '../../shared/wire/needs-by.ts';
import { SHELTER } from '../fixtures/cooled-shelter.ts';

/** Handbook 7, "must I go now?", from what is known of a room's cooling. */
const clock = (t: number): string => new Date(t / 1000).toISOString().slice(11, 16);
const LATE = { soonest: '2026-03-03T03:20:00Z', latest: '2026-03-03T03:40:00Z' };
const both = ['unit-1', 'unit-2'];
const space = (more: Partial<SpaceCooling>): SpaceCooling => ({ ...SHELTER, ...more });

describe('by when somebody is needed', () => {
  test.each<[string, Partial<SpaceCooling>, string, string]>([
    ['a forecast', { forecast: LATE, unable: both }, 'by', '35 °C between 03:20 and 03:40'],
    [
      'one unit out, the other carries it',
      { unable: ['unit-1'] },
      'not-needed',
      'over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it',
    ],
    ['every unit can run', {}, 'not-needed', 'every unit of the room can run'],
    ['no temperature', { unable: ['unit-1'], measured: false }, 'not-known', 'no room temperature'],
    ['no limit', { unable: ['unit-1'], limit: null }, 'not-known', 'no limit is recorded for this room'],
    [
      'not carried, nothing forecast: the worst',
      { unable: both },
      'by',
      'without any cooling 35 °C between 04:10 and 04:40',
    ],
    [
      'not carried, no warm-up seen',
      { unable: both, without: null, fit: null },
      'not-known',
      'no warm-up has been seen yet',
    ],
    [
      'one out, how much both ran isn’t known',
      { unable: ['unit-1'], load: null, without: null },
      'not-known',
      'how much it needs isn’t known',
    ],
  ])('%s', (_, more, kind, says) => {
    expect(needsByOf([space(more)], clock)).toMatchObject({ kind, says });
  });

  test('of several rooms the first at its limit counts, then one of which it can’t be told', () => {
    const hot = space({ id: 'b', name: 'Battery room', unable: both, forecast: LATE });
    const blind = space({ id: 'c', name: 'Store', unable: ['unit-1'], measured: false });
    expect(needsByOf([SHELTER, blind, hot], clock)).toEqual({
      kind: 'by',
      earliest: parseInstant(LATE.soonest),
      says: 'Battery room, 35 °C between 03:20 and 03:40',
    });
    expect(needsByOf([SHELTER, blind], clock)).toEqual({
      kind: 'not-known',
      says: 'Store, no room temperature',
    });
    expect(needsByOf([], clock).kind).toBe('not-known');
  });
});

test('what it means for cooling, in sentences', () => {
  expect(coolingLines([space({ unable: ['unit-1'] })], clock)).toEqual([
    '1 of 2 units can run.',
    'Over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.',
    'Without any cooling: 35 °C between 04:10 and 04:40.',
  ]);
});
