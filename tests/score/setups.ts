import { SCENARIO_NAMES } from './building-case.ts';
import type { PointSetup, Setup } from './case.ts';
import type { SiteSetup } from './site-case.ts';

const CALL: PointSetup = { signal: 'cooling-call' };
const UPSTREAM: PointSetup = { signal: 'cooling-call', sense: 'upstream' };
const OUTPUT: PointSetup = { signal: 'compressor-output' };
const ALARM: PointSetup = { signal: 'lockout-alarm' };
const HIGH: PointSetup = { signal: 'high-pressure', contact: 'normally-closed', sense: 'isolated' };
const LOW: PointSetup = { signal: 'low-pressure', contact: 'normally-closed', sense: 'isolated' };
const HIGH_LOOP: PointSetup = { ...HIGH, sense: 'loop' };
const LOW_LOOP: PointSetup = { ...LOW, sense: 'loop' };
const VOLTAGE: PointSetup = { signal: 'control-voltage' };
const CURRENT: PointSetup = { signal: 'compressor-current', deadband: 0.5 };

const FULL = [CALL, OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT];

/** A row of the score: how it is wired and reports, and how many histories of it the whole bench runs. */
interface Named {
  readonly name: string;
  readonly wiring: string;
  readonly mode: string;
  readonly histories: number;
}
export interface UnitRow extends Setup, Named {
  readonly kind: 'unit';
}
export interface SiteRow extends SiteSetup, Named {
  readonly kind: 'site';
}
/** histories are the scenarios of the simulated building, by their place in the list */
export interface BuildingRow extends Named {
  readonly kind: 'building';
}
export type Row = UnitRow | SiteRow | BuildingRow;

const row = (
  wiring: string,
  mode: string,
  points: readonly PointSetup[],
  histories: number,
  more: Partial<Setup> = {},
): UnitRow => ({
  kind: 'unit',
  name: `${wiring}, ${mode}`,
  wiring,
  mode,
  points,
  contactsEvery: null,
  voltageEvery: null,
  hours: 24,
  histories,
  ...more,
});

const polled = (every: number, histories: number, hours: number): UnitRow =>
  row('full', `polled ${every} s`, FULL, histories, {
    contactsEvery: every,
    voltageEvery: every,
    jitter: 0.05,
    hours,
  });

/** Three units on a panel in one room. */
const site = (
  wiring: string,
  every: number | null,
  points: readonly PointSetup[],
  histories: number,
  more: Partial<SiteSetup> = {},
): SiteRow => {
  const mode = every === null ? ON_CHANGE : `polled ${every} s`;
  return {
    kind: 'site',
    name: `${wiring}, ${mode}`,
    wiring,
    mode,
    points,
    contactsEvery: every,
    voltageEvery: every,
    line: false,
    units: 3,
    hours: every === null ? 24 : every === 1 ? 6 : 12,
    histories,
    ...(every === null ? {} : { jitter: 0.05 }),
    ...more,
  };
};

const ON_CHANGE = 'on change';
export const FULL_ON_CHANGE = 'full, on change';
const PANEL = 'panel of three';

export const SETUPS: readonly Row[] = [
  row('full', ON_CHANGE, FULL, 1_300),
  polled(1, 60, 6),
  polled(5, 120, 12),
  polled(10, 120, 24),
  polled(30, 100, 24),
  row('full', 'on change, voltage polled 5 s', FULL, 150, { voltageEvery: 5 }),
  row('full', 'on change, gateway dead at times', FULL, 200, { gaps: true }),
  row('full', 'on change, two gateways 1 s apart', FULL, 150, { twoClocks: true }),
  row('pressure contacts in loop', ON_CHANGE, [CALL, OUTPUT, ALARM, HIGH_LOOP, LOW_LOOP, VOLTAGE], 250),
  row('no pressure contacts', ON_CHANGE, [CALL, OUTPUT, ALARM, VOLTAGE], 250),
  row('call and output', ON_CHANGE, [CALL, OUTPUT], 200),
  row('call, output, voltage', ON_CHANGE, [CALL, OUTPUT, VOLTAGE], 200),
  row('no call', ON_CHANGE, [OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('call sensed upstream', ON_CHANGE, [UPSTREAM, OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('no alarm contact', ON_CHANGE, [CALL, OUTPUT, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('no control voltage', ON_CHANGE, [CALL, OUTPUT, ALARM, HIGH, LOW, CURRENT], 200),
  row('alarm shared by two units', ON_CHANGE, FULL, 200, { sharedAlarm: true }),
  row('alarm alone', ON_CHANGE, [ALARM], 150),
  row('alarm and control voltage', ON_CHANGE, [ALARM, VOLTAGE], 150),
  row('output alone', ON_CHANGE, [OUTPUT], 150),
  site(PANEL, null, FULL, 140),
  site(PANEL, 1, FULL, 8),
  site(PANEL, 5, FULL, 16),
  site(PANEL, 10, FULL, 16),
  site(PANEL, 30, FULL, 20),
  site(`${PANEL} with line voltage`, null, FULL, 60, { line: true }),
  site(`${PANEL}, call and output`, null, [CALL, OUTPUT], 40),
  site(`${PANEL}, no call`, null, [OUTPUT, ALARM, HIGH, LOW, VOLTAGE], 40),
  site(`${PANEL}, alarm and control voltage`, null, [ALARM, VOLTAGE], 30),
  {
    kind: 'building',
    name: 'the simulated building, as it is wired',
    wiring: 'the simulated building',
    mode: 'as it is wired',
    histories: SCENARIO_NAMES.length,
  },
];
