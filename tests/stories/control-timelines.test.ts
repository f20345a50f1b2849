import { describe, expect, it } from 'vitest';
import type { ControlSettings } from '../../shared/control/settings.ts';
import { drive, together, type Script } from '../fixtures/control-run.ts';
import { away, call, high, low, TIMELINES, volts } from '../fixtures/control-timelines.ts';

describe('the timelines of handbook 2.3', () => {
  it.each(TIMELINES)('$name', ({ script, settings, output, alarm, runningFrom }) => {
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
