import { describe, expect, it } from 'vitest';
import type { ControlSettings } from '../../shared/control/settings.ts';
import { during, together, type Script } from '../fixtures/control-run.ts';
import { replayRows, told } from '../fixtures/replay-unit.ts';
import { CALL, FULL, OUTPUT, oneUnit, recordOf, VOLTAGE_POLLED } from '../fixtures/unit-record.ts';

/**
 * What was seen of one unit, run again under other settings: the timelines of handbook 2.3 as the record has them (defaults
 * of handbook 2.1: off-cycle delay 210 s), and what the reference model makes of their inputs otherwise. Times in seconds;
 * on-change contacts are timed to ± 0.1 s. How far the record carries it is part of each answer.
 */
interface Story {
  readonly name: string;
  readonly seen: Script;
  readonly seenWith?: Partial<ControlSettings>;
  readonly replayedWith: Partial<ControlSettings>;
  readonly points?: readonly object[];
  readonly comes: readonly string[];
}

const call = during(100, null, { call: true }, {});
const high = (from: number, to: number | null) =>
  during(from, to, { highPressureOpen: true }, { highPressureOpen: false });
const low = (from: number, to: number | null) =>
  during(from, to, { lowPressureOpen: true }, { lowPressureOpen: false });
const outage = (from: number, to: number) => during(from, to, { controlVoltage: 0 }, { controlVoltage: 26 });
const running: Script = [[-150, { call: true }]];

const STORIES: readonly Story[] = [
  {
    name: 'an outage from 500 to 540, seen at 210 s: with 240 s it starts at 684 (handbook 2.3, "outage")',
    seen: together(running, outage(500, 540)),
    replayedWith: { offDelay: 240 },
    comes: ['stopped 500 power-lost', 'waiting 540 power-returned', 'started 684 wait-over'],
  },
  {
    name: 'with the settings that it had, the same outage ends as it was seen to: 540 + 141',
    seen: together(running, outage(500, 540)),
    replayedWith: {},
    comes: ['stopped 500 power-lost', 'waiting 540 power-returned', 'started 681 wait-over'],
  },
  {
    name: 'three short outages (reclosing): the last return counts, 46 + 144 with 240 s',
    seen: together(running, outage(0, 0.33), outage(15, 15.5), outage(45, 46)),
    replayedWith: { offDelay: 240 },
    comes: [
      'stopped 0 power-lost',
      'waiting 0.3 power-returned',
      'waiting 15.5 power-returned',
      'waiting 46 power-returned',
      'started 190 wait-over',
    ],
  },
  {
    name: 'an outage whose ends fell between two samples: the start is as wide as the power’s return',
    seen: together(running, outage(502, 541)),
    points: [{ ...CALL, sense: 'upstream' }, OUTPUT, VOLTAGE_POLLED],
    replayedWith: { offDelay: 240 },
    comes: ['stopped 500..502 power-lost', 'waiting 540..541 power-returned', 'started 684..685 wait-over'],
  },
  {
    name: 'a high-pressure trip, seen 500 to 520: a longer delay moves the retry, and what follows leans on the pressure',
    seen: together(call, high(500, 520), high(800, 900)),
    replayedWith: { offDelay: 240 },
    comes: [
      'started 100 call-came',
      'stopped 500 high-pressure',
      'held 500 high-pressure',
      'started 740 wait-over',
      'stopped 800 high-pressure if pressure as seen',
      'latched 800 high-pressure if pressure as seen',
    ],
  },
  {
    name: 'a shorter delay starts it where it was seen off: nothing shows its pressures until it was seen running',
    seen: together(call, high(500, 520)),
    replayedWith: { offDelay: 180 },
    comes: [
      'started 100 call-came',
      'stopped 500 high-pressure',
      'held 500 high-pressure',
      'started 680 wait-over',
      'can’t be told 680.1–709.9 runs-unseen',
    ],
  },
  {
    name: 'stops of different switches that don’t add up: after the lockout it would have tried again, and no more is known',
    seen: together(call, high(500, 520), low(800, 950)),
    replayedWith: { stopsCounted: 'by-switch' },
    comes: [
      'started 100 call-came',
      'stopped 500 high-pressure',
      'held 500 high-pressure',
      'started 710 wait-over',
      'stopped 920 low-pressure',
      'held 920 low-pressure',
      'started 1130 wait-over',
      'can’t be told 1130.1–2945 runs-unseen',
    ],
  },
  {
    name: 'low pressure for 121 s with a longer bypass: it runs on where it was seen to stop, and no more is known',
    seen: together(call, low(500, 621)),
    replayedWith: { lowPressureBypass: 180 },
    comes: ['started 100 call-came', 'can’t be told 620.1–2615 runs-on-unseen'],
  },
  {
    name: 'low pressure for 90 s with a bypass of 60 s: it would have stopped at 560',
    seen: together(call, low(500, 590)),
    replayedWith: { lowPressureBypass: 60 },
    comes: [
      'started 100 call-came',
      'stopped 560 low-pressure',
      'held 560 low-pressure',
      'started 770 wait-over',
    ],
  },
  {
    name: 'a call that ended because it was cooled: held off longer, the call would have lasted, how long isn’t known',
    seen: together(running, outage(500, 540), [[682, { call: false }]]),
    replayedWith: { offDelay: 240 },
    comes: [
      'stopped 500 power-lost',
      'waiting 540 power-returned',
      'can’t be told 681.9–922.1 call-ended-running',
    ],
  },
  {
    name: 'a switch that opened while it ran and it is held off now: what it would have done isn’t known',
    seen: together(running, outage(500, 540), high(683, 690)),
    replayedWith: { offDelay: 240 },
    comes: [
      'stopped 500 power-lost',
      'waiting 540 power-returned',
      'can’t be told 682.9–2685 switch-opened-running',
    ],
  },
  {
    name: '17 V for 5 s: the delay counted from its recovery restarts 5 s later (handbook 2.3, "undervoltage")',
    seen: together(call, during(500, 505, { controlVoltage: 17 }, { controlVoltage: 26 })),
    replayedWith: { undervoltageDelayFrom: 'recovery' },
    comes: [
      'started 100 call-came',
      'stopped 500 undervoltage',
      'held 500 undervoltage',
      'started 715 wait-over',
    ],
  },
];

describe('a unit replayed', () => {
  for (const { name, seen, seenWith, replayedWith, points, comes } of STORIES)
    it(name, () => {
      const rows = recordOf(seen, seenWith);
      expect(told(replayRows(oneUnit(points ?? FULL), rows, replayedWith))).toEqual(comes);
    });
});
