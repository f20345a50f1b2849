import { describe, expect, test } from 'vitest';
import { parseInstant, seconds } from '../../shared/base/instant.ts';
import type { SiteCounts } from '../../shared/report/counts.ts';
import { dueReport } from '../../shared/report/due.ts';
import { totalsOf, worstUnits } from '../../shared/report/fleet-report.ts';
import { monthBefore, monthText, parseMonth, stretchOfMonth } from '../../shared/report/month.ts';
import { siteReport } from '../../shared/report/site-report.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { availabilityText, hoursText, worstText } from '../../shared/wire/report-sentences.ts';

/** A month in figures: from midnight to midnight on the site's wall, shares of known time only. Arithmetic [computed]. */
const at = (text: string) => parseInstant(text)!;

describe('a month', () => {
  test('is read as 2026-10, and nothing else is one', () => {
    expect(parseMonth('2026-10')).toEqual({ year: 2026, month: 10 });
    expect(['2026-13', '2026-00', '2026-1', '10-2026', '0000-05', ''].map(parseMonth)).toEqual(
      Array.from({ length: 6 }, () => null),
    );
    expect(monthText(monthBefore({ year: 2027, month: 1 }))).toBe('2026-12');
  });

  test('in which the clocks change is an hour shorter or longer (New York 2026: 8 March, 1 November)', () => {
    const hours = (month: number) => {
      const { from, to } = stretchOfMonth({ year: 2026, month }, 'America/New_York');
      return (to - from) / seconds(3600);
    };
    expect([hours(3), hours(10), hours(11)]).toEqual([31 * 24 - 1, 31 * 24, 30 * 24 + 1]);
    expect(stretchOfMonth({ year: 2026, month: 12 }, 'America/New_York')).toEqual({
      from: at('2026-12-01T05:00:00Z'),
      to: at('2027-01-01T05:00:00Z'),
    });
  });
});

describe('the report by e-mail', () => {
  const settings = { isMonthly: true, atMinutes: 420, zone: 'America/Chicago' };
  test('is due on the first at the chosen time, once, and not a fortnight late', () => {
    expect(dueReport(settings, null, at('2026-11-01T12:59:59Z'))).toBeNull();
    expect(dueReport(settings, null, at('2026-11-01T13:00:00Z'))).toBe('2026-10');
    expect(dueReport(settings, '2026-09', at('2026-11-03T02:00:00Z'))).toBe('2026-10');
    expect(dueReport(settings, '2026-10', at('2026-11-03T02:00:00Z'))).toBeNull();
    expect(dueReport(settings, '2026-09', at('2026-11-14T13:00:00Z'))).toBeNull();
    expect(dueReport({ ...settings, isMonthly: false }, null, at('2026-11-01T13:00:00Z'))).toBeNull();
  });
});

const parsed = parseConfiguration('oak', {
  name: 'Oak Street',
  timeZone: 'UTC',
  panels: [{ id: 'panel-a' }],
  spaces: [{ id: 'room-1', name: 'Room 1' }, { id: 'room-2' }],
  units: [
    { id: 'unit-1', name: 'North', panel: 'panel-a', space: 'room-1' },
    { id: 'unit-2', panel: 'panel-a', space: 'room-2' },
  ],
});
if (!parsed.ok) throw new Error('faults');
const { site } = parsed;
const NOTHING: SiteCounts = {
  site: 'oak',
  seconds: 1000,
  knownSeconds: 800,
  runs: [],
  units: [],
  spaces: [],
  panels: [],
};

describe('a site', () => {
  const report = siteReport(site, {
    ...NOTHING,
    runs: [{ unit: 'unit-1', starts: 12, runSeconds: 4000 }],
    units: [
      { unit: 'unit-1', kind: 'hard-lockout', cause: 'high-pressure', count: 2 },
      { unit: 'unit-1', kind: 'hard-lockout', cause: 'unknown', count: 1 },
      { unit: 'unit-2', kind: 'short-cycle', cause: 'delay-not-kept', count: 40 },
      { unit: 'unit-2', kind: 'stuck-contactor', cause: '', count: 1 },
    ],
    spaces: [{ space: 'room-1', lostSeconds: 80, reducedSeconds: 100, hotSeconds: 60 }],
    panels: [
      { panel: 'panel-a', kind: 'voltage-sag', of: 'momentary', count: 3 },
      { panel: 'panel-a', kind: 'restart-sequence', of: 'simultaneous', count: 1 },
      { panel: 'panel-a', kind: 'restart-sequence', of: 'separate', count: 4 },
    ],
  });

  test('has its availability from the time that was listened to: 1 − 80 ⁄ 800', () => {
    expect(report.spaces.map(({ id, availability }) => [id, availability])).toEqual([
      ['room-1', 0.9],
      ['room-2', 1],
    ]);
    expect(totalsOf([report])).toMatchObject({
      availability: 1 - 80 / 1600,
      lostSeconds: 80,
      starts: 12,
      hardLockouts: { all: 3, causes: { 'high-pressure': 2, unknown: 1 } },
      supply: { sags: { momentary: 3 }, restarts: 5, together: 1 },
    });
  });

  test('of which less than half was heard says nothing of availability', () => {
    const deaf = siteReport(site, { ...NOTHING, knownSeconds: 499 });
    expect(deaf.spaces.map(({ availability }) => availability)).toEqual([null, null]);
    expect(totalsOf([deaf, report])).toMatchObject({ availability: 1 - 80 / 1600, untold: 2, spaces: 4 });
    expect(totalsOf([deaf]).availability).toBeNull();
  });

  test('names the units that need somebody, a latched one before one that stutters', () => {
    expect(worstUnits([report]).map(({ unit }) => [unit.name, worstText(unit)])).toEqual([
      ['North', '3 hard lockouts'],
      ['unit-2', '1 failed start or stuck contactor, 40 short cycles'],
    ]);
  });
});

test('figures never read as more than they are', () => {
  expect([1, 0.9999, 0.99996, 0.9999999, 0.992, null].map(availabilityText)).toEqual([
    '100 %',
    '99.99 %',
    '99.996 %',
    'over 99.999 %',
    '99.2 %',
    'can’t be told',
  ]);
  expect([0, 60, 5400, 400 * 3600].map(hoursText)).toEqual(['0 h', 'under 0.1 h', '1.5 h', '400 h']);
});
