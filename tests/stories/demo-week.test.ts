import { describe, expect, it } from 'vitest';
import { SECOND } from '../../shared/base/instant.ts';
import { building } from '../../shared/building/building.ts';
import { demoBuildings, demoEdges } from '../../shared/building/scenarios/demo.ts';
import type { TruthFact } from '../../shared/building/truth.ts';
import { siteOf } from '../fixtures/building-run.ts';

/** The week that the demonstration lays down, from a Wednesday noon to the next. */
const FROM = Date.UTC(2026, 10, 18, 18) * 1000;
const TO = FROM + 7 * 86_400 * SECOND;

function week(place: number): { truth: TruthFact[]; samples: number; cpuSeconds: number } {
  const each = demoBuildings[place]!;
  const model = building(siteOf(each), each.plan);
  const before = process.cpuUsage();
  const state = model.begin(FROM);
  const truth: TruthFact[] = [];
  let samples = 0;
  model.advance(state, TO, demoEdges(each.site, { from: state.t, to: TO }, []), {
    entry: ({ signals }) => (samples += Object.keys(signals).length),
    truth: (fact) => truth.push(fact),
  });
  const { user, system } = process.cpuUsage(before);
  return { truth, samples, cpuSeconds: (user + system) / 1e6 };
}

const latched = (truth: readonly TruthFact[]): string[] =>
  truth.flatMap((fact) =>
    fact.kind === 'control' && fact.change.kind === 'latched'
      ? [`${fact.device} ${fact.change.reason.code}`]
      : [],
  );

describe('the week of the demonstration', () => {
  it('school: a blocked coil, lost charge, an outage, a brown-out, a breaker', () => {
    const { truth, samples, cpuSeconds } = week(0);
    console.log(`school: a week of ${samples} samples in ${cpuSeconds.toFixed(1)} s of processor time`);
    expect(latched(truth).sort()).toEqual(['unit-2 low-pressure', 'unit-5 high-pressure']);
    const codes = new Set(truth.map((fact) => (fact.kind === 'control' ? fact.change.reason.code : '')));
    for (const code of ['power-lost', 'undervoltage', 'power-broken', 'power-returned'])
      expect(codes).toContain(code);
    expect(samples).toBeGreaterThan(80_000);
    expect(samples).toBeLessThan(400_000);
    expect(cpuSeconds).toBeLessThan(15);
  });

  it('shelter: two hard lockouts of the lead, one of them unheard, and a night on the generator', () => {
    const { truth } = week(1);
    expect(latched(truth)).toEqual(['unit-1 high-pressure', 'unit-1 high-pressure']);
    const sources = truth.flatMap((fact) => (fact.kind === 'source' ? [fact.source] : []));
    expect(sources).toEqual(['none', 'generator', 'none', 'utility']);
    expect(truth.some(({ kind }) => kind === 'over-limit')).toBe(false);
  });
});
