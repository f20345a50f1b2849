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
