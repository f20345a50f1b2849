import type { PointSetup, Setup } from './case.ts';

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
export interface Row extends Setup {
  readonly histories: number;
}

const row = (
  wiring: string,
  mode: string,
  points: readonly PointSetup[],
  histories: number,
  more: Partial<Setup> = {},
): Row => ({
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

const polled = (every: number, histories: number, hours: number): Row =>
  row('full', `polled ${every} s`, FULL, histories, {
    contactsEvery: every,
    voltageEvery: every,
    jitter: 0.05,
    hours,
  });

const ON_CHANGE = 'on change';
export const FULL_ON_CHANGE = 'full, on change';

export const SETUPS: readonly Row[] = [
  row('full', ON_CHANGE, FULL, 1_500),
  polled(1, 300, 6),
  polled(5, 400, 12),
  polled(10, 400, 24),
  polled(30, 300, 24),
  row('full', 'on change, voltage polled 5 s', FULL, 250, { voltageEvery: 5 }),
  row('full', 'on change, gateway dead at times', FULL, 300, { gaps: true }),
  row('full', 'on change, two gateways 1 s apart', FULL, 150, { twoClocks: true }),
  row('pressure contacts in loop', ON_CHANGE, [CALL, OUTPUT, ALARM, HIGH_LOOP, LOW_LOOP, VOLTAGE], 300),
  row('no pressure contacts', ON_CHANGE, [CALL, OUTPUT, ALARM, VOLTAGE], 300),
  row('call and output', ON_CHANGE, [CALL, OUTPUT], 200),
  row('call, output, voltage', ON_CHANGE, [CALL, OUTPUT, VOLTAGE], 200),
  row('no call', ON_CHANGE, [OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('call sensed upstream', ON_CHANGE, [UPSTREAM, OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('no alarm contact', ON_CHANGE, [CALL, OUTPUT, HIGH, LOW, VOLTAGE, CURRENT], 200),
  row('no control voltage', ON_CHANGE, [CALL, OUTPUT, ALARM, HIGH, LOW, CURRENT], 200),
  row('alarm alone', ON_CHANGE, [ALARM], 100),
  row('alarm and control voltage', ON_CHANGE, [ALARM, VOLTAGE], 100),
  row('output alone', ON_CHANGE, [OUTPUT], 100),
];
