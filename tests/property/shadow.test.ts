import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inSeconds, SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import { REFERENCE_SETTINGS, withTimerError, type ControlSettings } from '../../shared/control/settings.ts';
import type { ControlInputs } from '../../shared/control/state.ts';
import { buildingsAt, SCENARIOS } from '../../shared/building/scenarios/list.ts';
import { unitFold } from '../../shared/inference/unit/fold.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { runBuilding } from '../fixtures/building-run.ts';
import { during, together, type Script } from '../fixtures/control-run.ts';
import { foldOnce, type Row } from '../fixtures/fold-run.ts';
import * as wired from '../fixtures/unit-record.ts';

/**
 * The shadow control (handbook 4 rule 11): over histories of the reference control in every variant, seen in every mode of
 * reporting, no `control-disagrees` may appear; where the output was tampered with, it appears once, at the right time.
 */
const CASES = Number(process.env['SHADOW_CASES'] ?? 240);
const LONG = 10 * 60_000;
const SEED = Number(process.env['SHADOW_SEED'] ?? 20_261_126);

/** Every control of handbook 2.1. */
const settings: fc.Arbitrary<Partial<ControlSettings>> = fc.record({
  offDelay: fc.constantFrom(30, 60, 180, 210, 240, 300),
  offDelayFrom: fc.constantFrom('call', 'stop'),
  powerUpBase: fc.constantFrom(60, 120, 180),
  powerUpShare: fc.constantFrom(0, 0.1, 0.2),
  lowPressureBypass: fc.constantFrom(60, 120, 180),
  lowPressureRetry: fc.constantFrom('closed-needed', 'bypass-again'),
  stopsCounted: fc.constantFrom('together', 'by-switch'),
  undervoltageTrip: fc.constantFrom(18, 20, null),
  undervoltageStartGrace: fc.constantFrom(0, 2),
  undervoltageDelayFrom: fc.constantFrom('drop', 'recovery'),
  holdUp: fc.constantFrom(0, 0.05, 0.1),
});

/** What is written down of it: all, the delay alone, nothing, or all but which variant it is. */
type Written = 'all' | 'delay' | 'nothing' | 'either';
const written = fc.constantFrom<Written>('all', 'delay', 'nothing', 'either');
const EITHER = {
  offDelayFrom: 'either',
  lowPressureRetry: 'either',
  stopsCounted: 'either',
  undervoltageDelayFrom: 'either',
};
function protectionOf(real: Partial<ControlSettings>, how: Written): object {
  if (how === 'all') return real;
  if (how === 'either') return { ...real, ...EITHER };
  return { offDelay: how === 'delay' ? real.offDelay : undefined };
}

/** Something that lasts, at tenths of a second: what is over between two looks of the gateway is never told. */
const lasting = (least: number, most: number, on: Partial<ControlInputs>, off: Partial<ControlInputs>) =>
  fc
    .tuple(fc.integer({ min: 0, max: 40_000 }), fc.integer({ min: least * 100, max: most * 100 }))
    .map(([from, length]): Script => during(from / 10, from / 10 + length / 100, on, off));

const AWAY: Partial<ControlInputs> = { controlVoltage: 0, call: false };
const BACK: Partial<ControlInputs> = { controlVoltage: 26, call: true };
const life: fc.Arbitrary<Script> = fc
  .tuple(
    fc.array(lasting(20, 2500, { call: true }, { call: false }), { minLength: 1, maxLength: 6 }),
    fc.array(lasting(0.02, 2, { call: false }, { call: true }), { maxLength: 2 }),
    fc.array(lasting(0.5, 600, { highPressureOpen: true }, { highPressureOpen: false }), { maxLength: 5 }),
    fc.array(lasting(20, 900, { lowPressureOpen: true }, { lowPressureOpen: false }), { maxLength: 3 }),
    fc.array(lasting(0.05, 20, { controlVoltage: 16 }, { controlVoltage: 26 }), { maxLength: 2 }),
    fc.array(lasting(0.02, 90, AWAY, BACK), { maxLength: 3 }),
  )
  .map((parts) => together(...parts.flat()));

const reporting = fc.constantFrom(
  { mode: 'on-change' },
  { mode: 'on-change' },
  { mode: 'polled', seconds: 1 },
  { mode: 'polled', seconds: 5 },
  { mode: 'polled', seconds: 30 },
);
const wiredAs = (point: object) => reporting.map((how) => ({ ...point, reporting: how }));
const sensed = (point: object) => fc.constantFrom({ ...point, sense: 'loop' }, point);
const points = fc
  .tuple(
    wiredAs(wired.CALL),
    wiredAs(wired.OUTPUT),
    wiredAs(wired.ALARM),
    sensed(wired.HIGH).chain(wiredAs),
    sensed(wired.LOW).chain(wiredAs),
    wiredAs(wired.VOLTAGE),
  )
  .chain((all) =>
    fc.oneof(
      fc.constant(all),
      fc.subarray(all, { minLength: 2 }),
      fc.constant(all.map((point) => ({ ...point, reporting: { mode: 'on-change' } }))),
    ),
  );

/** What the gateway tells: it looks each tenth of a second and tells changes, or once a period. */
function heard(rows: readonly Row[], own: readonly object[]): Row[] {
  const told: Row[] = [];
  const calls = rows.filter(({ key }) => key === 'unit-1/cooling-call');
  for (const point of own as { signal: string; sense?: string; reporting: { seconds?: number } }[]) {
    const key = `unit-1/${point.signal}`;
    const steps = rows.filter((row) => row.key === key);
    const { seconds: period } = point.reporting;
    let last: number | null = null;
    for (const t of looks(steps, period)) {
      const dark = point.sense === 'loop' && valueAt(calls, t) === 0;
      const value = dark ? 0 : valueAt(steps, t);
      if (period === undefined && value === last) continue;
      told.push({ key, t, value });
      last = value;
    }
  }
  return told;
}

/** When the gateway looks: once a period, or at the tenth of a second after each move of anything. */
function looks(steps: readonly Row[], period: number | undefined): Instant[] {
  const tenth = SECOND / 10;
  if (period === undefined) return [...new Set(steps.map(({ t }) => Math.ceil(t / tenth) * tenth))];
  const times: Instant[] = [];
  for (let t = steps[0]!.t; t <= steps.at(-1)!.t; t += seconds(period)) times.push(t);
  return times;
}

function valueAt(steps: readonly Row[], at: Instant): number {
  let low = 0;
  let high = steps.length - 1;
  while (low < high) {
    const middle = (low + high + 1) >> 1;
    if (steps[middle]!.t <= at) low = middle;
    else high = middle - 1;
  }
  return steps[low]!.value;
}

function disagreements(rows: readonly Row[], own: readonly object[], protection: object): EventDraft[] {
  const site = wired.oneUnit(own, protection);
  const end = rows.reduce((latest, { t }) => Math.max(latest, t), 0);
  const lives: Row[] = [];
  for (let t = seconds(-200); t <= end; t += seconds(10)) lives.push({ key: 'gateway/life', t, value: 1 });
  const { events } = foldOnce({
    fold: unitFold,
    history: [{ from: -Infinity, site }],
    subject: { kind: 'unit', site: 'rowan', device: 'unit-1' },
    rows: [...rows, ...lives],
    watch: { spans: [{ from: seconds(-300), to: end }] },
  });
  return events.filter(({ kind }) => kind === 'control-disagrees');
}

const described = (event: EventDraft): string =>
  [
    event.discriminator,
    wired.told(event),
    ...event.evidence.map(({ t, says }) => `${inSeconds(t)} ${says}`),
  ].join('\n');

describe('the shadow control', () => {
  it(`contradicts no control that is as it should be (${CASES} cases)`, { timeout: LONG }, () => {
    const error = fc.double({ min: -0.05, max: 0.05, noNaN: true });
    fc.assert(
      fc.property(settings, written, life, points, error, (real, how, script, own, share) => {
        const timers = withTimerError({ ...REFERENCE_SETTINGS, ...real }, share);
        const rows = heard(wired.recordOf(script, timers, 2500, 2000), own);
        expect(disagreements(rows, own, protectionOf(real, how)).map(described)).toEqual([]);
      }),
      { numRuns: CASES, seed: SEED },
    );
  });

  it.each(SCENARIOS.map(({ name }) => name))('contradicts no control of the simulated %s', (name) => {
    const scenario = SCENARIOS.find((each) => each.name === name)!;
    for (const each of buildingsAt(scenario, FROM)) {
      const { site, entries } = runBuilding(each, Math.min(scenario.seconds, 43_200), FROM);
      const rows = entries.flatMap(({ t, device, signals }): Row[] =>
        Object.entries(signals).map(([signal, value]) => ({ key: `${device}/${signal}`, t, value })),
      );
      const end = rows.reduce((latest, { t }) => Math.max(latest, t), FROM);
      for (const { id } of site.units) {
        const { events } = foldOnce({
          fold: unitFold,
          history: [{ from: -Infinity, site }],
          subject: { kind: 'unit', site: site.id, device: id },
          rows,
          watch: { spans: [{ from: FROM, to: end }] },
        });
        expect(events.filter(({ kind }) => kind === 'control-disagrees').map(described)).toEqual([]);
      }
    }
  });
});

const FROM: Instant = Date.UTC(2026, 7, 26, 12) * 1000;

/** A tampered output: from when on it is wrong, and how it then reads. */
interface Fault {
  readonly name: string;
  readonly way: string;
  readonly script: Script;
  /** the first wrong moment, s */
  readonly from: number;
  readonly output: (at: number, right: number) => number;
}

const faults = (length: number): Fault[] => [
  {
    name: 'it stays on after its call',
    way: 'on-without-call',
    script: during(1000, 1500, { call: true }, { call: false }),
    from: 1500,
    output: (at, right) => (at >= 1500 && at < 1500 + length ? 1 : right),
  },
  {
    name: 'it runs on with the high-pressure switch open',
    way: 'on-with-high-pressure',
    script: together(
      during(1000, 4000, { call: true }, { call: false }),
      during(1500, 1500 + length, { highPressureOpen: true }, { highPressureOpen: false }),
    ),
    from: 1500,
    output: (at) => +(at >= 1000 && at < 4000),
  },
  {
    name: 'it never comes on',
    way: 'off-with-call',
    script: during(1000, 1000 + 800 + length, { call: true }, { call: false }),
    from: 1000,
    output: () => 0,
  },
];

describe('a tampered output', () => {
  it(`is told once, at the right time (${CASES / 4} cases)`, { timeout: LONG }, () => {
    const how = fc.constantFrom(
      { mode: 'on-change' },
      { mode: 'polled', seconds: 1 },
      { mode: 'polled', seconds: 5 },
    );
    fc.assert(
      fc.property(settings, written, how, fc.integer({ min: 1, max: 30 }), (real, known, voltage, length) => {
        for (const fault of faults(20 * length)) {
          const own = [wired.CALL, wired.OUTPUT, wired.ALARM, wired.HIGH, wired.LOW].map((point) => ({
            ...point,
            reporting: { mode: 'on-change' },
          }));
          const all = [...own, { ...wired.VOLTAGE, reporting: voltage }];
          const rows = wired.recordOf(fault.script, real, 2500, 20).map((row): Row => {
            const at = row.t / SECOND;
            if (row.key === 'unit-1/compressor-output') return { ...row, value: fault.output(at, row.value) };
            // its own state is as the output shows it: it never trips for the fault
            return row.key === 'unit-1/lockout-alarm' ? { ...row, value: 0 } : row;
          });
          const found = disagreements(heard(rows, all), all, protectionOf(real, known));
          expect(found.map(({ discriminator }) => discriminator)).toEqual([fault.way]);
          expect(inSeconds(found[0]!.start.earliest)).toBeLessThanOrEqual(fault.from + 0.1);
          expect(inSeconds(found[0]!.start.latest)).toBeGreaterThanOrEqual(fault.from - 0.1);
        }
      }),
      { numRuns: CASES / 4, seed: SEED },
    );
  });
});
