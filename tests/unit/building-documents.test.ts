import { describe, expect, it } from 'vitest';
import { buildingsAt, SCENARIOS } from '../../shared/building/scenarios/list.ts';
import { wire } from '../../shared/building/wiring.ts';
import { siteOf, START } from '../fixtures/building-run.ts';

describe('scenarios are data', () => {
  it.each(SCENARIOS.map((scenario) => [scenario.name, scenario] as const))(
    '%s: its documents are accepted, and its plans fit them',
    (_name, scenario) => {
      for (const each of buildingsAt(scenario, START)) {
        const wiring = wire(siteOf(each), each.plan);
        expect(wiring.units.length).toBeGreaterThan(0);
        expect(wiring.units.every(({ unit }) => unit.protection.offDelay.known === 'recorded')).toBe(true);
      }
    },
  );

  it('have names of their own', () => {
    const names = SCENARIOS.map(({ name }) => name);
    expect(new Set(names).size).toBe(names.length);
  });

  it('say that they are simulated', () => {
    for (const { buildings } of SCENARIOS)
      for (const { document } of buildings) expect(JSON.stringify(document)).toContain('simulated');
  });
});
