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

const onChange = (
  name: string,
  points: readonly PointSetup[],
  histories: number,
  more: Partial<Setup> = {},
): Row => ({
  name,
  points,
  contactsEvery: null,
  voltageEvery: null,
  hours: 24,
  histories,
  ...more,
});

const polled = (every: number, histories: number, hours: number): Row => ({
  name: `full, polled ${every} s`,
  points: FULL,
  contactsEvery: every,
  voltageEvery: every,
  jitter: 0.05,
  hours,
  histories,
});

export const FULL_ON_CHANGE = 'full, on change';

export const SETUPS: readonly Row[] = [
  onChange(FULL_ON_CHANGE, FULL, 1_500),
  polled(1, 300, 6),
  polled(5, 400, 12),
  polled(10, 400, 24),
  polled(30, 300, 24),
  onChange('full on change, voltage polled 5 s', FULL, 250, { voltageEvery: 5 }),
  onChange('full on change, gateway dead at times', FULL, 300, { gaps: true }),
  onChange('full on change, two gateways 1 s apart', FULL, 150, { twoClocks: true }),
  onChange('pressure contacts in loop', [CALL, OUTPUT, ALARM, HIGH_LOOP, LOW_LOOP, VOLTAGE], 300),
  onChange('no pressure contacts', [CALL, OUTPUT, ALARM, VOLTAGE], 300),
  onChange('call and output', [CALL, OUTPUT], 200),
  onChange('call, output, voltage', [CALL, OUTPUT, VOLTAGE], 200),
  onChange('no call', [OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  onChange('call sensed upstream', [UPSTREAM, OUTPUT, ALARM, HIGH, LOW, VOLTAGE, CURRENT], 200),
  onChange('no alarm contact', [CALL, OUTPUT, HIGH, LOW, VOLTAGE, CURRENT], 200),
  onChange('no control voltage', [CALL, OUTPUT, ALARM, HIGH, LOW, CURRENT], 200),
  onChange('alarm alone', [ALARM], 100),
  onChange('alarm and control voltage', [ALARM, VOLTAGE], 100),
  onChange('output alone', [OUTPUT], 100),
];
