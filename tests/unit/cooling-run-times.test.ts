import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { seconds } from '../../shared/base/instant.ts';
import {
  cycledHours,
  fittedMost,
  offMinutes,
  onMinutes,
  startsPerHour,
} from '../../shared/cooling/cycling.ts';
import {
  distribution,
  mostInAnHour,
  runFraction,
  runTimes,
  startRate,
  type RunEdge,
} from '../../shared/cooling/run-times.ts';

const edge = (to: RunEdge['to'], from: number, by = from): RunEdge => ({
  to,
  span: { earliest: seconds(from), latest: seconds(by) },
});
const hour = (...edges: RunEdge[]) => runTimes(edges, seconds(0), seconds(3600));

describe('run times, from edges', () => {
  it('timed at the gateway: a run of 10 min and rests either side, which the window cuts', () => {
    const times = hour(edge('off', -100), edge('on', 600), edge('off', 1200));
    expect(times.runs).toEqual([[600, 600]]);
    expect(times).toMatchObject({ rests: [], cut: 2, onSeconds: [600, 600], knownSeconds: 3600 });
    expect(runFraction(times)).toEqual([1 / 6, 1 / 6]);
    expect(startRate(times)).toBe(1);
  });

  it('polled each 10 s: a length is known to within two polls, the fraction likewise', () => {
    const times = hour(
      edge('off', -5),
      edge('on', 590, 600),
      edge('off', 1200, 1210),
      edge('on', 1800, 1810),
    );
    expect(times.runs).toEqual([[600, 620]]);
    expect(times.rests).toEqual([[590, 610]]);
    expect(times.onSeconds).toEqual([600 + 1790, 620 + 1800]);
  });

  it('a stretch of not knowing is left out: it cuts the run before it and the rest after it', () => {
    const times = hour(
      edge('off', -5),
      edge('on', 600),
      edge('unknown', 900),
      edge('off', 1500),
      edge('on', 2100),
    );
    expect(times).toMatchObject({ runs: [], rests: [], unknownSeconds: 600, knownSeconds: 3000 });
    expect(times.onSeconds).toEqual([300 + 1500, 300 + 1500]);
    expect(times.cut).toBe(4);
    expect(times.starts).toEqual([seconds(600), seconds(2100)]);
  });

  it('heard running after a silence is no start', () => {
    expect(hour(edge('off', -5), edge('unknown', 100), edge('on', 700)).starts).toEqual([]);
  });

  it('nothing known: no fraction, no rate', () => {
    const times = hour();
    expect([runFraction(times), startRate(times), distribution(times.runs)]).toEqual([null, null, null]);
    expect(times.unknownSeconds).toBe(3600);
  });

  it('counts the most starts in any 60 min; two an hour apart aren’t in one', () => {
    expect(mostInAnHour([0, 600, 1200, 3600, 3700].map(seconds))).toBe(4);
    expect(mostInAnHour([0, 3600].map(seconds))).toBe(1);
    expect(mostInAnHour([])).toBe(0);
  });

  it('bounds every rank of the lengths', () => {
    expect(
      distribution([
        [10, 20],
        [30, 40],
        [12, 14],
      ]),
    ).toEqual({
      count: 3,
      least: [10, 14],
      lowerQuarter: [11, 17],
      median: [12, 20],
      upperQuarter: [21, 30],
      most: [30, 40],
      mean: [52 / 3, 74 / 3],
    });
  });

  it('the true time on lies within the bounds, however the edges were polled', () => {
    const lengths = fc.array(fc.integer({ min: 20, max: 1500 }), { minLength: 2, maxLength: 20 });
    fc.assert(
      fc.property(lengths, fc.integer({ min: 1, max: 15 }), (drawn, period) => {
        let t = -50;
        let on = false;
        let truth = 0;
        const edges = [edge('off', -1000)];
        for (const length of drawn) {
          const next = t + length;
          if (on) truth += Math.max(0, Math.min(3600, next) - Math.max(0, t));
          t = next;
          on = !on;
          const seen = Math.floor(t / period) * period;
          edges.push(edge(on ? 'on' : 'off', seen, seen + period));
        }
        if (on) truth += Math.max(0, 3600 - Math.max(0, t));
        const [low, high] = hour(...edges).onSeconds;
        expect(low).toBeLessThanOrEqual(truth + 1e-9);
        expect(high).toBeGreaterThanOrEqual(truth - 1e-9);
      }),
    );
  });
});

describe('hours beside the cycling curve', () => {
  /** a thermostat that keeps the curve: hours of one load after another, each cycle as long as the curve says */
  function kept(most: number, loads: readonly number[]): RunEdge[] {
    const edges = [edge('off', -1)];
    loads.forEach((load, i) => {
      const cycle = 60 * (onMinutes(most, load) + offMinutes(most, load));
      for (let at = i * 36_000; at + cycle <= (i + 1) * 36_000; at += cycle)
        edges.push(edge('on', at), edge('off', at + 60 * onMinutes(most, load)));
    });
    return edges;
  }

  it.each([2, 3, 5])('finds Nmax of a thermostat that keeps it: %i', (most) => {
    const loads = [0.3, 0.5, 0.7];
    const hours = cycledHours(kept(most, loads), 0, seconds(108_000));
    expect(hours.length).toBeGreaterThan(25);
    const [low, high] = fittedMost(hours)!;
    expect(low).toBeGreaterThan(0.9 * most);
    expect(high).toBeLessThan(1.1 * most);
    expect(startsPerHour(most, 0.5)).toBe(most);
  });

  it('fewer than four hours that cycled draw no curve', () => {
    expect(fittedMost(cycledHours(kept(3, [0.5]), 0, seconds(3 * 3600)))).toBeNull();
    expect(fittedMost(cycledHours([edge('on', -1)], 0, seconds(36_000)))).toBeNull();
  });
});
