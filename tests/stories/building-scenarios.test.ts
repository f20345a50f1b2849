import { describe, expect, it } from 'vitest';
import { inSeconds } from '../../shared/base/instant.ts';
import { isInUse } from '../../shared/building/wiring.ts';
import { runScenario, samplesOf, START, type BuildingRunResult } from '../fixtures/building-run.ts';

/** What happens in each scenario, told by the simulated building itself, and what its gateways saw of it. */
const of = ({ did }: BuildingRunResult, unit: string): string[] =>
  did.filter((line) => line.includes(` ${unit} `)).map((line) => line.split(' ').slice(2).join(' '));
const startsOf = (run: BuildingRunResult, units: readonly string[]): number[] =>
  run.truth
    .flatMap((fact) =>
      fact.kind === 'control' && units.includes(fact.device) && fact.change.reason.code === 'wait-over'
        ? [inSeconds(fact.at - START)]
        : [],
    )
    .sort((a, b) => a - b);

describe('the utility fails on a hot afternoon', () => {
  const run = runScenario('utility-outage');
  const back = 645 + 240;

  it('panel A restarts 3 s apart: 138, 141, 144, 147 s after the power is back', () => {
    const starts = startsOf(run, ['unit-1', 'unit-2', 'unit-3', 'unit-4']).slice(0, 4);
    expect(starts).toHaveLength(4);
    starts.forEach((at, i) => expect(at - back).toBeCloseTo(138 + 3 * i, 0));
  });

  it('on panel B two units start within a fifth of a second, and the line dips deeper for it', () => {
    const starts = startsOf(run, ['unit-6', 'unit-7']).slice(0, 2);
    expect(Math.abs(starts[1]! - starts[0]!)).toBeLessThan(0.2);
    const dips = run.truth.flatMap((fact) =>
      fact.kind === 'dip' && fact.device === 'panel-b' && inSeconds(fact.at - START) > back ? [fact] : [],
    );
    const together = dips.find(({ starting }) => starting.length === 2)!;
    const alone = dips.find(({ starting }) => starting.length === 1)!;
    expect(together.volts).toBeLessThan(alone.volts - 2);
  });

  it('the meter sees the line gone and back, the module the control voltage', () => {
    const line = samplesOf(run, 'panel-a', 'line-voltage');
    const gone = line.find(([, volts]) => volts === 0)!;
    expect(gone[0]).toBeGreaterThan(600);
    expect(gone[0]).toBeLessThanOrEqual(600.1);
    expect(samplesOf(run, 'unit-1', 'control-voltage').some(([, volts]) => volts === 0)).toBe(true);
  });
});

describe('one fault each', () => {
  it('a blocked outdoor coil: soft lockout, one retry, hard lockout, and the room above its limit', () => {
    const run = runScenario('blocked-coil');
    const after = of(run, 'unit-5').filter((line) => !line.includes('call'));
    expect(after).toEqual([
      'stopped high-pressure',
      'held high-pressure',
      'started wait-over',
      'stopped high-pressure',
      'latched high-pressure',
    ]);
    expect(samplesOf(run, 'unit-5', 'lockout-alarm').at(-1)?.[1]).toBe(1);
    expect(run.truth.some((fact) => fact.kind === 'over-limit' && fact.device === 'room-5' && fact.on)).toBe(
      true,
    );
  });

  it('lost charge: each run ends just past the bypass', () => {
    const run = runScenario('lost-charge');
    const stops = run.truth.flatMap((fact) =>
      fact.kind === 'control' && fact.change.kind === 'stopped' && fact.change.reason.code === 'low-pressure'
        ? [fact.change.reason]
        : [],
    );
    expect(stops).toHaveLength(2);
    for (const stop of stops) expect(stop.openFor).toBeCloseTo(120, 0);
    expect(of(run, 'unit-2').at(-1)).toBe('latched low-pressure');
  });

  it('a weak supply: every start on panel B ends in an undervoltage hold within half a second', () => {
    const run = runScenario('weak-transformer');
    const holds = run.did.filter((line) => line.endsWith('held undervoltage'));
    expect(holds.length).toBeGreaterThan(20);
    for (const unit of ['unit-1', 'unit-2', 'unit-3', 'unit-4'])
      expect(of(run, unit)).not.toContain('held undervoltage');
  });

  it('a night on the generator: two restarts, the second after the return transfer', () => {
    const run = runScenario('generator-night');
    const sources = run.truth.flatMap((fact) => (fact.kind === 'source' ? [fact.source] : []));
    expect(sources).toEqual(['none', 'generator', 'none', 'utility']);
    expect(of(run, 'unit-1').filter((line) => line === 'waiting power-returned')).toHaveLength(2);
    expect(samplesOf(run, 'panel-p', 'generator-running').map(([, value]) => value)).toEqual([0, 1, 0]);
    expect(samplesOf(run, 'panel-p', 'utility-failed').map(([, value]) => value)).toEqual([0, 1, 0]);
  });

  it('a broken alarm wire: the lead locks out, its contact never moves, the lag carries on', () => {
    const run = runScenario('silent-alarm');
    expect(of(run, 'unit-1')).toContain('latched high-pressure');
    expect(samplesOf(run, 'unit-1', 'lockout-alarm').map(([, value]) => value)).toEqual([0]);
    expect(of(run, 'unit-2').filter((line) => line.startsWith('started')).length).toBeGreaterThan(2);
  });

  it('a compressor that does not start: output on, no current', () => {
    const run = runScenario('failed-start');
    const output = samplesOf(run, 'unit-1', 'compressor-output').at(-1)!;
    const current = samplesOf(run, 'unit-1', 'compressor-current').at(-1)!;
    expect([output[1], current[1]]).toEqual([1, 0]);
  });

  it('a welded contactor: current with no output', () => {
    const run = runScenario('welded-contactor');
    const output = samplesOf(run, 'unit-1', 'compressor-output').at(-1)!;
    const current = samplesOf(run, 'unit-1', 'compressor-current').at(-1)!;
    expect(output[1]).toBe(0);
    expect(current[1]).toBeGreaterThan(5);
  });

  it('a lost uplink: what was told during it is delivered when it is back, in order', () => {
    const run = runScenario('lost-uplink');
    const during = run.entries.filter(({ gateway, t }) => {
      const at = inSeconds(t - START);
      return gateway === 'module-1' && at >= 590 && at < 1790;
    });
    expect(during.some(({ device }) => device === 'unit-1')).toBe(true);
    expect(during.some(({ device }) => device === 'module-1')).toBe(true);
    for (const { deliveredAt } of during) expect(inSeconds(deliveredAt - START)).toBe(1790);
    expect(
      run.entries.filter(({ gateway }) => gateway === 'module-3').every((e) => e.deliveredAt === e.t),
    ).toBe(true);
  });

  it('cooling in the cold: low-pressure stops at the starts', () => {
    expect(of(runScenario('cold-morning'), 'unit-1')).toContain('stopped low-pressure');
  });
});

describe('a quiet day', () => {
  const run = runScenario('quiet-day');

  it('has runs, and nothing else', () => {
    const codes = new Set(run.did.map((line) => line.split(' ').slice(2).join(' ')));
    expect([...codes].filter((code) => !/call|wait-over/.test(code))).toEqual([]);
    expect(run.did.length).toBeGreaterThan(200);
  });

  it('keeps the rooms near their set points while they are in use', () => {
    const warm = samplesOf(run, 'room-3', 'space-temperature').filter(([s]) => s > 9 * 3600 && s < 16 * 3600);
    expect(warm.length).toBeGreaterThan(400);
    for (const [, celsius] of warm) {
      expect(celsius).toBeGreaterThan(21.5);
      expect(celsius).toBeLessThan(26);
    }
  });

  it('every start and stop of a control is told by its module within a tenth of a second', () => {
    const seen = new Map<string, number[]>();
    for (const entry of run.entries)
      if (entry.signals['compressor-output'] !== undefined)
        seen.set(entry.device, [...(seen.get(entry.device) ?? []), entry.t]);
    for (const fact of run.truth) {
      if (fact.kind !== 'control' || !['started', 'stopped'].includes(fact.change.kind)) continue;
      const told = seen.get(fact.device)!.find((t) => t >= fact.at)!;
      expect(inSeconds(told - fact.at)).toBeLessThanOrEqual(0.1);
    }
  });
});

describe('schedules', () => {
  it('count days from Monday, and run from one time to another', () => {
    const weekdays = [{ days: [true, true, true, true, true, false, false], from: 7.5, to: 16 }];
    // 2026-08-26 is a Wednesday: day 20691 since 1970-01-01
    expect(isInUse(weekdays, 20_691, 8)).toBe(true);
    expect(isInUse(weekdays, 20_691, 16)).toBe(false);
    expect(isInUse(weekdays, 20_694, 8)).toBe(false);
  });
});
