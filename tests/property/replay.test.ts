import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import type { ControlSettings } from '../../shared/control/settings.ts';
import { START } from '../fixtures/building-run.ts';
import { drive, type Script } from '../fixtures/control-run.ts';
import type { Row } from '../fixtures/fold-run.ts';
import { replayTold, toldScenario } from '../fixtures/replay-building.ts';
import { replayRows } from '../fixtures/replay-unit.ts';
import { FULL, oneUnit, recordOf } from '../fixtures/unit-record.ts';

/**
 * A replay under the settings that a building's controls have finds nothing beyond the intervals; and whatever the inputs and
 * the settings, what a replay claims holds for the history that truly was.
 */
const SCENARIOS = ['utility-outage', 'blocked-coil', 'lost-charge', 'cold-morning', 'quiet-day'];

describe('a simulated building under its own settings', () => {
  it.each(SCENARIOS)('%s: no difference', (name) => {
    const told = toldScenario(name);
    const { units, events } = replayTold(told, {}, { from: 0, to: inSeconds(told.end - START) });
    const replayed = units.filter(({ refused }) => refused === null);
    expect(replayed.length).toBeGreaterThan(0);
    expect(replayed.flatMap(({ differences }) => differences)).toEqual([]);
    expect(events).toEqual([]);
    const compared = replayed.reduce((sum, { baseline }) => sum + baseline.compared, 0);
    expect(compared, 'changes of the reference control that were seen').toBeGreaterThan(50);
  });
});

/** Inputs that change on whole tenths of a second, each a while after the one before. */
const script = fc
  .array(
    fc.tuple(
      fc.integer({ min: 20, max: 4000 }),
      fc.constantFrom('call', 'call', 'call', 'high', 'low', 'sag', 'outage'),
    ),
    { minLength: 2, maxLength: 12 },
  )
  .map((steps): Script => {
    let at = 0;
    const on = { call: false, high: false, low: false, sag: false, outage: false };
    return steps.map(([gap, what]) => {
      at += gap / 10;
      on[what as keyof typeof on] = !on[what as keyof typeof on];
      const controlVoltage = on.outage ? 0 : on.sag ? 17 : 26;
      const call = on.call && !on.outage;
      return [at, { controlVoltage, call, highPressureOpen: on.high, lowPressureOpen: on.low }];
    });
  });

const OPTIONS: Partial<ControlSettings>[] = [
  {},
  { offDelay: 240 },
  { offDelay: 60 },
  { stopsCounted: 'by-switch' },
  { lowPressureBypass: 60 },
  { offDelayFrom: 'stop' },
  { undervoltageDelayFrom: 'recovery' },
];

/** The same rows with every instant moved within the points' resolution, as a gateway may have timed them. */
const jittered = (rows: readonly Row[], shares: readonly number[]): Row[] => {
  const times = [...new Set(rows.map(({ t }) => t))].sort((a, b) => a - b);
  const moved = new Map<Instant, Instant>();
  let last = -Infinity;
  for (const [i, t] of times.entries()) {
    last = Math.max(last + 1, t + Math.round(shares[i % shares.length]! * seconds(0.09)));
    moved.set(t, last);
  }
  return rows.map((row) => ({ ...row, t: moved.get(row.t)! }));
};

describe('any inputs, any settings', () => {
  it('seen under the reference settings, every claim about others holds where the inputs truly do as seen', () => {
    let claimed = 0;
    fc.assert(
      fc.property(
        script,
        fc.constantFrom(...OPTIONS),
        fc.array(fc.double({ min: -1, max: 1, noNaN: true }), { minLength: 1, maxLength: 9 }),
        (steps, settings, shares) => {
          const { changes } = replayRows(oneUnit(FULL), jittered(recordOf(steps), shares), settings);
          const truth = drive(steps, settings).changes;
          for (const { kind, at } of changes) {
            claimed++;
            const held = truth.some(
              (one) => one.kind === kind && one.at >= at.earliest && one.at <= at.latest,
            );
            expect(held, `${kind} ${inSeconds(at.earliest)}..${inSeconds(at.latest)}`).toBe(true);
          }
        },
      ),
      { numRuns: Number(process.env['REPLAY_CASES'] ?? 300), seed: 20_261_126 },
    );
    expect(claimed).toBeGreaterThan(300);
  });
});
