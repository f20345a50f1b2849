import { describe, expect, it } from 'vitest';
import type { Happening, ScenarioBuilding } from '../../shared/building/plan.ts';
import { school } from '../../shared/building/scenarios/school.ts';
import { shelter } from '../../shared/building/scenarios/shelter.ts';
import { runBuilding, samplesOf } from '../fixtures/building-run.ts';

/** What a gateway sees, by how a point is wired and reported. START is a Wednesday, 07:00 at the school. */
const lockedOut: readonly Happening[] = [
  { at: 0, what: { kind: 'set-point', space: 'room-4', setPoint: 17 } },
  { at: 600, what: { kind: 'switch-open', unit: 'unit-4', which: 'high' } },
];
const values = (samples: readonly [number, number][]): number[] => samples.map(([, value]) => value);
type Json = {
  units: { id: string; points: { signal: string; [more: string]: unknown }[] }[];
  points: object[];
};

/** The school with a point of unit 4 wired otherwise. */
function rewired(signal: string, more: object, happenings = lockedOut): ScenarioBuilding {
  const each = school(happenings);
  const document = structuredClone(each.document) as Json;
  const unit = document.units.find(({ id }) => id === 'unit-4')!;
  unit.points = unit.points.map((point) => (point.signal === signal ? { ...point, ...more } : point));
  return { ...each, document };
}

describe('a gateway', () => {
  it('sees both pressure loops dark when the high-pressure switch opens, or when the call goes', () => {
    const run = runBuilding(school(lockedOut), 1500);
    const high = samplesOf(run, 'unit-4', 'high-pressure');
    const low = samplesOf(run, 'unit-4', 'low-pressure');
    expect(high).toEqual(low);
    expect(high.at(-1)![1]).toBe(0);
    expect(high.at(-1)![0]).toBeCloseTo(600, 0);
    expect(values(samplesOf(run, 'unit-4', 'cooling-call')).at(-1)).toBe(1);
  });

  it('sees only the low-pressure loop dark when only that switch opens', () => {
    const low: readonly Happening[] = [
      lockedOut[0]!,
      { at: 600, seconds: 60, what: { kind: 'switch-open', unit: 'unit-4', which: 'low' } },
    ];
    const run = runBuilding(school(low), 900);
    expect(values(samplesOf(run, 'unit-4', 'low-pressure')).slice(-3)).toEqual([1, 0, 1]);
    expect(values(samplesOf(run, 'unit-4', 'high-pressure')).at(-1)).toBe(1);
    expect(samplesOf(run, 'unit-4', 'high-pressure').every(([second]) => second < 600)).toBe(true);
  });

  it('sees an isolated contact true at all times: only the switch that opened', () => {
    const run = runBuilding(rewired('low-pressure', { sense: 'isolated' }), 1500);
    expect(values(samplesOf(run, 'unit-4', 'low-pressure'))).toEqual([1]);
  });

  it('sees an alarm relay that is released on a fault fall off without power too', () => {
    const outage: readonly Happening[] = [
      { at: 600, seconds: 60, what: { kind: 'utility-away', panels: ['panel-a'] } },
    ];
    const released = { alarmOn: 'released', contact: 'normally-closed' };
    const run = runBuilding(rewired('lockout-alarm', released, outage), 900);
    expect(values(samplesOf(run, 'unit-4', 'lockout-alarm'))).toEqual([1, 0, 1]);
    const energised = runBuilding(rewired('lockout-alarm', {}, outage), 900);
    expect(values(samplesOf(energised, 'unit-4', 'lockout-alarm'))).toEqual([0]);
  });

  it('sees one contact that several units share close for any of them', () => {
    const each = school(lockedOut);
    const document = structuredClone(each.document) as Json;
    document.points.push({
      signal: 'lockout-alarm',
      of: ['unit-3', 'unit-4'],
      gateway: 'meter-a',
      reporting: { mode: 'on-change' },
    });
    for (const unit of document.units)
      unit.points = unit.points.filter(({ signal }) => signal !== 'lockout-alarm');
    expect(values(samplesOf(runBuilding({ ...each, document }, 1500), 'site', 'lockout-alarm'))).toEqual([
      0, 1,
    ]);
  });

  it('polls in its own rhythm, and misses a pulse between two looks', () => {
    const short: readonly Happening[] = [
      { at: 601, seconds: 2, what: { kind: 'utility-away', panels: ['panel-a'] } },
    ];
    const polled = { reporting: { mode: 'polled', seconds: 5 }, deadband: 0 };
    const run = runBuilding(rewired('control-voltage', polled, short), 900);
    const samples = samplesOf(run, 'unit-4', 'control-voltage');
    for (let i = 1; i < samples.length; i++) expect(samples[i]![0] - samples[i - 1]![0]).toBe(5);
    expect(values(samples).every((volts) => volts > 20)).toBe(true);
    expect(run.truth.some((fact) => fact.kind === 'control-power' && fact.device === 'unit-4')).toBe(true);
  });

  it('that goes down with its panel tells nothing until it has booted, then everything anew', () => {
    const each = shelter([{ at: 601, seconds: 5, what: { kind: 'utility-away', panels: ['panel-p'] } }]);
    const plan = { ...each.plan, gateways: { 'module-1': { fedFrom: 'panel-p', bootSeconds: 40 } } };
    const run = runBuilding({ ...each, plan }, 900);
    const told = samplesOf(run, 'unit-1', 'control-voltage').map(([second]) => second);
    expect(told.filter((second) => second > 601 && second < 641)).toEqual([]);
    const contacts = samplesOf(run, 'unit-1', 'lockout-alarm');
    expect(values(contacts)).toEqual([0, 0]);
    expect(contacts[1]![0]).toBeGreaterThan(640);
  });

  it('keeps an analog within its deadband to itself', () => {
    const samples = samplesOf(runBuilding(school([]), 3600), 'panel-a', 'line-voltage');
    expect(samples.length).toBeGreaterThan(5);
    for (let i = 1; i < samples.length; i++)
      expect(Math.abs(samples[i]![1] - samples[i - 1]![1])).toBeGreaterThan(0.3 - 1e-9);
  });
});
