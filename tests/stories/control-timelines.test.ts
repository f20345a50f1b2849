import { describe, expect, it } from 'vitest';
import type { ControlSettings } from '../../shared/control/settings.ts';
import { drive, during, together, type Script } from '../fixtures/control-run.ts';

/**
 * Handbook 2.3, timelines to reproduce exactly, in seconds [computed from 2.2]: reference model, powered and settled
 * long before 0, call on at 100 unless said.
 */
const call = (from: number, to: number | null = null): Script =>
  during(from, to, { call: true }, { call: false });
const high = (from: number, to: number | null = null): Script =>
  during(from, to, { highPressureOpen: true }, { highPressureOpen: false });
const low = (from: number, to: number | null = null): Script =>
  during(from, to, { lowPressureOpen: true }, { lowPressureOpen: false });
const volts = (value: number, from: number, to: number): Script =>
  during(from, to, { controlVoltage: value }, { controlVoltage: 26 });
/** control power away: the call, which is fed from it, goes and comes with it */
const away = (from: number, to: number): Script =>
  during(from, to, { controlVoltage: 0, call: false }, { controlVoltage: 26, call: true });

interface Row {
  readonly name: string;
  readonly script: Script;
  readonly settings?: Partial<ControlSettings>;
  readonly output: string[];
  readonly alarm: string[];
  /** the call is present and the compressor running from this second on, before 0 */
  readonly runningFrom?: number;
}

const ROWS: Row[] = [
  {
    name: 'one high-pressure trip',
    script: together(call(100), high(500, 520)),
    output: ['on 100', 'off 500', 'on 710'],
    alarm: [],
  },
  {
    name: 'two high-pressure trips in one call',
    script: together(call(100, 5000), high(500, 520), high(800, 900)),
    output: ['on 100', 'off 500', 'on 710', 'off 800'],
    alarm: ['on 800', 'off 5000'],
  },
  {
    name: 'a high-pressure switch that stays open',
    script: together(call(100), high(500)),
    output: ['on 100', 'off 500'],
    alarm: ['on 710'],
  },
  {
    name: 'stays open, closes at 900, the call breaks from 1000 to 1010',
    script: together(call(100, 1000), high(500, 900), call(1010)),
    output: ['on 100', 'off 500', 'on 1220'],
    alarm: ['on 710', 'off 1000'],
  },
  {
    name: 'the same, with the off-cycle delay counted from the stop only',
    script: together(call(100, 1000), high(500, 900), call(1010)),
    settings: { offDelayFrom: 'stop' },
    output: ['on 100', 'off 500', 'on 1010'],
    alarm: ['on 710', 'off 1000'],
  },
  {
    name: 'a low-pressure switch open for 90 s stops nothing',
    script: together(call(100), low(500, 590)),
    output: ['on 100'],
    alarm: [],
  },
  {
    name: 'a low-pressure switch open for 121 s',
    script: together(call(100), low(500, 621)),
    output: ['on 100', 'off 620', 'on 830'],
    alarm: [],
  },
  {
    name: 'a low-pressure switch that stays open, tolerated again at the retry',
    script: together(call(100), low(500)),
    settings: { lowPressureRetry: 'bypass-again' },
    output: ['on 100', 'off 620', 'on 830', 'off 950'],
    alarm: ['on 950'],
  },
  {
    name: 'a low-pressure switch that stays open, needed closed at the retry',
    script: together(call(100), low(500)),
    settings: { lowPressureRetry: 'closed-needed' },
    output: ['on 100', 'off 620'],
    alarm: ['on 830'],
  },
  {
    name: 'undervoltage: 17 V for 5 s',
    script: together(call(100), volts(17, 500, 505)),
    output: ['on 100', 'off 500', 'on 710'],
    alarm: [],
  },
  {
    name: 'undervoltage, with the delay counted from recovery',
    script: together(call(100), volts(17, 500, 505)),
    settings: { undervoltageDelayFrom: 'recovery' },
    output: ['on 100', 'off 500', 'on 715'],
    alarm: [],
  },
  {
    name: 'an outage of 40 s with an off-cycle delay of 240 s',
    script: together(call(-5000), away(500, 540)),
    settings: { offDelay: 240 },
    runningFrom: -5000,
    output: ['off 500', 'on 684'],
    alarm: [],
  },
  {
    name: 'three short outages while the utility recloses',
    script: together(call(-5000), away(0, 0.33), away(15, 15.5), away(45, 46)),
    runningFrom: -5000,
    output: ['off 0', `on ${46 + 141}`],
    alarm: [],
  },
];

describe('the timelines of handbook 2.3', () => {
  it.each(ROWS)('$name', ({ script, settings, output, alarm, runningFrom }) => {
    const before = runningFrom === undefined ? [] : [`on ${runningFrom}`];
    const seen = drive(script, settings);
    expect(seen.output).toEqual([...before, ...output]);
    expect(seen.alarm).toEqual(alarm);
  });
});

describe('behind the timelines, handbook 2.2', () => {
  const reasons = (script: Script, settings?: Partial<ControlSettings>): string[] =>
    drive(script, settings).changes.map((change) => `${change.kind} ${change.reason.code}`);

  it('names the reason of every change of two high-pressure trips', () => {
    expect(reasons(together(call(100, 5000), high(500, 520), high(800, 900)))).toEqual([
      'started call-came',
      'stopped high-pressure',
      'held high-pressure',
      'started wait-over',
      'stopped high-pressure',
      'latched high-pressure',
      'reset call-broken',
    ]);
  });

  it('takes a hard lockout as reset by power where power and call go together', () => {
    const script = together(call(100), high(500, 900), away(1000, 1010));
    expect(drive(script).alarm).toEqual(['on 710', 'off 1000']);
    expect(reasons(script)).toContain('reset power-broken');
    expect(reasons(script)).not.toContain('reset call-broken');
  });

  it('does not start on a high-pressure switch found open by the call, and counts that as a first stop [from memory]', () => {
    const seen = drive(together(high(50, 200), call(100)));
    expect(seen.output).toEqual(['on 310']);
    expect(seen.changes[0]).toMatchObject({
      kind: 'held',
      reason: { code: 'high-pressure-at-start', stop: 1 },
    });
    expect(drive(together(high(50), call(100))).alarm).toEqual(['on 310']);
  });

  it('lets a switch that recloses at the very end of the bypass have closed', () => {
    expect(drive(together(call(100), low(500, 620))).output).toEqual(['on 100']);
  });

  it('lets a switch that recloses at the very retry have closed', () => {
    expect(drive(together(call(100), high(500, 710))).output).toEqual(['on 100', 'off 500', 'on 710']);
  });

  it('counts the bypass from the start where the switch opened before', () => {
    expect(drive(together(low(0), call(100))).output.slice(0, 2)).toEqual(['on 100', 'off 220']);
  });

  it('starts the count of stops afresh with every call', () => {
    const script = together(call(100, 600), high(500, 520), call(700, 5000), high(1200, 1220));
    expect(drive(script).alarm).toEqual([]);
  });

  it('adds a high- and a low-pressure stop up to a hard lockout only where they are counted together', () => {
    const script = together(call(100, 5000), high(500, 520), low(800, 1000));
    expect(drive(script, { stopsCounted: 'together' }).alarm).toEqual(['on 920', 'off 5000']);
    expect(drive(script, { stopsCounted: 'by-switch' }).alarm).toEqual([]);
    expect(drive(script, { stopsCounted: 'by-switch' }).output).toEqual([
      'on 100',
      'off 500',
      'on 710',
      'off 920',
      'on 1130',
      'off 5000',
    ]);
  });

  it('counts no undervoltage drop toward a hard lockout [from memory]', () => {
    const script = together(call(100, 5000), volts(17, 500, 505), volts(17, 800, 805), volts(17, 1100, 1105));
    expect(drive(script).alarm).toEqual([]);
  });

  it('ignores a low voltage within the start grace, and drops where it lasts beyond', () => {
    const grace = { undervoltageStartGrace: 2 };
    expect(drive(together(call(100), volts(15, 100, 101.5)), grace).output).toEqual(['on 101.5']);
    expect(drive(together(call(100), volts(15, 100.1, 101.5)), grace).output).toEqual(['on 100']);
    expect(drive(together(call(100), volts(15, 100.1, 103)), grace).output).toEqual([
      'on 100',
      'off 102',
      'on 312',
    ]);
  });

  it('waits with a start until the control voltage is at or above trip', () => {
    expect(drive(together(volts(17.9, 50, 300), call(100))).output).toEqual(['on 300']);
  });

  it('rides through a low voltage with no undervoltage trip', () => {
    expect(drive(together(call(100), volts(9, 500, 505)), { undervoltageTrip: null }).output).toEqual([
      'on 100',
    ]);
  });

  it('keeps its count through a power loss shorter than the hold-up, while the coil goes without', () => {
    const settings = { holdUp: 0.1 };
    expect(drive(together(call(100), away(500, 500.05)), settings).output).toEqual([
      'on 100',
      'off 500',
      'on 500.05',
    ]);
    expect(drive(together(call(100), away(500, 500.1)), settings).output).toEqual([
      'on 100',
      'off 500',
      'on 641.1',
    ]);
  });

  it('starts the off-cycle delay in full where a call of its own goes with the output off', () => {
    const script = together(call(100, 500), call(600, 650), call(900));
    expect(drive(script).output).toEqual(['on 100', 'off 500', 'on 900']);
    const soon = together(call(100, 500), call(600, 650), call(800));
    expect(drive(soon).output).toEqual(['on 100', 'off 500', 'on 1010']);
    expect(drive(soon, { offDelayFrom: 'stop' }).output).toEqual(['on 100', 'off 500', 'on 800']);
  });

  it('waits out the whole power-up delay again after a second loss', () => {
    expect(drive(together(call(-5000), away(0, 10), away(100, 110))).output).toEqual([
      'on -5000',
      'off 0',
      'on 251',
    ]);
  });
});
