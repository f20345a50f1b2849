import { parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import type { SignalName } from '../../shared/telemetry/signals.ts';

/**
 * A unit's record as it mostly is: of ten rows nine are an unchanged control voltage (polled each 10 s), one is a contact
 * that changed. Every 400 s the unit is called, runs for 150 s and rests for 250 s.
 */
export const SITE = 'bench';
export const UNIT = 'unit-1';
export const BEGIN: Instant = parseInstant('2026-03-02T00:00:00Z')!;

const CYCLE = seconds(400);
const POLL = seconds(10);

export const siteDocument = (units = 1) => ({
  timeZone: 'UTC',
  panels: [{ id: 'panel' }],
  units: Array.from({ length: units }, (_, i) => ({
    id: `unit-${i + 1}`,
    panel: 'panel',
    points: [
      { signal: 'cooling-call', reporting: { mode: 'on-change' } },
      { signal: 'compressor-output', reporting: { mode: 'on-change' } },
      { signal: 'control-voltage', reporting: { mode: 'polled', seconds: 10 } },
    ],
  })),
});

/**
 * A unit as the plan of DEVELOPERS.md has it: contacts on change, both pressures and the alarm among them, control voltage
 * each `every` seconds.
 */
export const fullDocument = (units: number, every: number) => ({
  timeZone: 'UTC',
  panels: [{ id: 'panel' }],
  units: Array.from({ length: units }, (_, i) => ({
    id: `unit-${i + 1}`,
    panel: 'panel',
    protection: { offDelay: 210 },
    points: [
      { signal: 'cooling-call' },
      { signal: 'compressor-output' },
      { signal: 'lockout-alarm' },
      { signal: 'high-pressure', contact: 'normally-closed', sense: 'isolated' },
      { signal: 'low-pressure', contact: 'normally-closed', sense: 'isolated' },
      { signal: 'control-voltage', reporting: { mode: 'polled', seconds: every } },
    ],
  })),
});

export interface UnitRow {
  readonly signal: SignalName;
  readonly t: Instant;
  readonly value: number;
}

/** 44 rows a cycle: 40 voltages, 4 contacts. */
export const ROWS_A_CYCLE = CYCLE / POLL + 4;

export function* unitRows(cycles: number, begin: Instant = BEGIN): Generator<UnitRow> {
  for (let cycle = 0; cycle < cycles; cycle++) yield* cycleRows(begin + cycle * CYCLE);
}

function* cycleRows(t: Instant): Generator<UnitRow> {
  const on = t + seconds(3);
  const off = t + seconds(153);
  for (let at = t; at < t + CYCLE; at += POLL) {
    yield { signal: 'control-voltage', t: at, value: 26.1 };
    if (at <= on && on < at + POLL) yield* bothContacts(on, 1);
    if (at <= off && off < at + POLL) yield* bothContacts(off, 0);
  }
}

function* bothContacts(t: Instant, value: number): Generator<UnitRow> {
  yield { signal: 'cooling-call', t, value };
  yield { signal: 'compressor-output', t: t + seconds(0.2), value };
}

const DAY = seconds(86_400);
/** A call each quarter of an hour, as a room that cycles asks for. */
const CALL_EVERY = seconds(900);

/**
 * Days of a unit like that: 96 runs of six minutes a day, one of them broken by a high-pressure trip and its retry; a
 * control voltage whose last digit is never still.
 */
export function* dayRows(days: number, every: number): Generator<UnitRow> {
  const poll = seconds(every);
  const begin = BEGIN + seconds(0.5);
  yield { signal: 'lockout-alarm', t: BEGIN, value: 0 };
  yield { signal: 'high-pressure', t: BEGIN, value: 1 };
  yield { signal: 'low-pressure', t: BEGIN, value: 1 };
  let polled = 0;
  for (let day = 0; day < days; day++)
    for (let call = begin + day * DAY; call < begin + (day + 1) * DAY; call += CALL_EVERY) {
      const contacts = runRows(call, call === begin + day * DAY + 40 * CALL_EVERY);
      for (const row of contacts) {
        for (; BEGIN + polled * poll < row.t; polled++) yield voltageRow(BEGIN + polled * poll, polled);
        yield row;
      }
      for (; BEGIN + polled * poll < call + CALL_EVERY; polled++)
        yield voltageRow(BEGIN + polled * poll, polled);
    }
}

const voltageRow = (t: Instant, i: number): UnitRow => ({
  signal: 'control-voltage',
  t,
  value: 26 + ((i * 7) % 5) / 10,
});

function runRows(call: Instant, trips: boolean): UnitRow[] {
  const at = (second: number, signal: SignalName, value: number): UnitRow => ({
    signal,
    t: call + seconds(second),
    value,
  });
  if (!trips)
    return [
      at(0, 'cooling-call', 1),
      at(0.1, 'compressor-output', 1),
      at(360, 'cooling-call', 0),
      at(360.1, 'compressor-output', 0),
    ];
  return [
    at(0, 'cooling-call', 1),
    at(0.1, 'compressor-output', 1),
    at(300, 'high-pressure', 0),
    at(300.1, 'compressor-output', 0),
    at(320, 'high-pressure', 1),
    at(510.2, 'compressor-output', 1),
    at(640, 'cooling-call', 0),
    at(640.1, 'compressor-output', 0),
  ];
}
