import { seconds, SECOND, type Instant } from '../../base/instant.ts';
import { happeningEdges, type HappeningEdge } from '../happenings.ts';
import type { Happening, ScenarioBuilding } from '../plan.ts';
import { school, SCHOOL } from './school.ts';
import { shelter, SHELTER } from './shelter.ts';

/**
 * The demonstration: the school and the shelter through the same eventful week over and over, and, while someone may be
 * looking, a cycle of 14 minutes in which something is always about to happen. All of it is invented.
 */
export const demoBuildings: readonly ScenarioBuilding[] = [school([]), shelter([])];

const DAY = 86_400;
const WEEK = 7 * DAY;
/** the week begins on Monday at midnight where the school is; 1970-01-05 was a Monday */
const FIRST_MONDAY = seconds(4 * DAY + 5 * 3600);

/** Seconds into the week; hours are the school's. */
const on = (weekday: number, hour: number, minute = 0): number => weekday * DAY + hour * 3600 + minute * 60;
const MONDAY = 0;
const TUESDAY = 1;
const WEDNESDAY = 2;
const THURSDAY = 3;
const FRIDAY = 4;
const SATURDAY = 5;

const away = (panels: readonly string[], at: number, length: number): Happening => ({
  at,
  seconds: length,
  what: { kind: 'utility-away', panels },
});
/** Someone switches the unit off, puts it right, and on again ten minutes later. */
const visit = (unit: string, at: number): Happening => ({
  at,
  seconds: 600,
  what: { kind: 'breaker-open', unit },
});
const BOTH = ['panel-a', 'panel-b'];

const WEEKLY: Readonly<Record<string, readonly Happening[]>> = {
  [SCHOOL]: [
    { at: on(MONDAY, 13, 20), seconds: 7_800, what: { kind: 'coil-blocked', unit: 'unit-5', share: 0.72 } },
    visit('unit-5', on(MONDAY, 15, 30)),
    // the utility recloses twice, then stays away for eleven minutes
    away(BOTH, on(TUESDAY, 14, 10), 0.4),
    away(BOTH, on(TUESDAY, 14, 10) + 15, 0.5),
    away(BOTH, on(TUESDAY, 14, 10) + 47, 660),
    { at: on(WEDNESDAY, 10), seconds: 25_200, what: { kind: 'charge-lost', unit: 'unit-2', share: 0.55 } },
    visit('unit-2', on(WEDNESDAY, 16, 50)),
    {
      at: on(THURSDAY, 15, 5),
      seconds: 9,
      what: { kind: 'utility-low', panels: BOTH, share: 0.64 },
    },
    { at: on(FRIDAY, 9, 30), seconds: 1_500, what: { kind: 'breaker-open', unit: 'unit-3' } },
  ],
  [SHELTER]: [
    away(['panel-p'], on(TUESDAY, 3, 40), 5_700),
    { at: on(THURSDAY, 16), seconds: 9_000, what: { kind: 'coil-blocked', unit: 'unit-1', share: 0.75 } },
    visit('unit-1', on(THURSDAY, 18, 25)),
    { at: on(SATURDAY, 13), seconds: 7_200, what: { kind: 'coil-blocked', unit: 'unit-1', share: 0.75 } },
    { at: on(SATURDAY, 12, 50), seconds: 8_400, what: { kind: 'alarm-wire-open', unit: 'unit-1' } },
    visit('unit-1', on(SATURDAY, 14, 55)),
  ],
};

/** How long one cycle takes, and how far before its named instant its first edge lies. */
export const CYCLE = { seconds: 840, lead: 400 };

const setPoint = (space: string, from: number, to: number): Happening => ({
  at: from,
  seconds: to - from,
  what: { kind: 'set-point', space, setPoint: 17 },
});
const opens = (unit: string, which: 'high' | 'low', at: number, length: number): Happening => ({
  at,
  seconds: length,
  what: { kind: 'switch-open', unit, which },
});

/**
 * One cycle, in seconds from its named instant. School: the utility is back at −60, panel A restarts 3 s apart from 78
 * on, on panel B two units start together at 81; unit 2 stops on high pressure at 95 and retries at 305; unit 6 on low
 * pressure at 330, retry 540. Shelter: unit 2, stopped once before, stops again at 60 and locks out until its call
 * breaks at 430; at 670 it stops for the first time in the next call.
 */
const CYCLE_OF: Readonly<Record<string, readonly Happening[]>> = {
  [SCHOOL]: [
    ...[1, 3, 4, 5, 7, 8].map((n) => setPoint(`room-${n}`, -95, 215)),
    setPoint('room-2', -95, 420),
    setPoint('room-6', -95, 620),
    away(BOTH, -80, 20),
    opens('unit-2', 'high', 95, 40),
    opens('unit-6', 'low', 210, 160),
  ],
  [SHELTER]: [
    setPoint('shelter', -395, 430),
    { at: -395, seconds: 825, what: { kind: 'heat', space: 'shelter', watts: 3_000 } },
    opens('unit-2', 'high', -170, 60),
    opens('unit-2', 'high', 60, 60),
  ],
};

/** What happens in a site of the demonstration from one instant to another: every week's own, and the cycles named. */
export function demoEdges(
  site: string,
  { from, to }: { readonly from: Instant; readonly to: Instant },
  cycles: readonly Instant[],
): HappeningEdge[] {
  const first = Math.floor((from - FIRST_MONDAY) / seconds(WEEK)) - 1;
  const last = Math.floor((to - FIRST_MONDAY) / seconds(WEEK));
  const weeks = Array.from(
    { length: last - first + 1 },
    (_, i) => FIRST_MONDAY + (first + i) * WEEK * SECOND,
  );
  return [
    ...weeks.flatMap((monday) => happeningEdges(WEEKLY[site] ?? [], monday)),
    ...cycles.flatMap((at) => happeningEdges(CYCLE_OF[site] ?? [], at)),
  ]
    .filter(({ at }) => at > from && at <= to)
    .sort((a, b) => a.at - b.at || Number(a.begins) - Number(b.begins));
}
