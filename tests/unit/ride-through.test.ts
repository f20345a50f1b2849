import { describe, expect, it } from 'vitest';
import { exactly } from '../../shared/base/span.ts';
import { seconds } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { completenessOf } from '../../shared/review/completeness.ts';
import { controlRatio, foreseen, marginOf } from '../../shared/review/margin.ts';
import { covered, uncovered, type Stretch } from '../../shared/review/stretches.ts';
import { susceptibilityOf } from '../../shared/review/susceptibility.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

const parsed = parseConfiguration('rowan', {
  timeZone: 'America/Chicago',
  panels: [{ id: 'panel-a', nominalVoltage: 240 }],
  units: [{ id: 'unit-1', panel: 'panel-a', points: [{ signal: 'compressor-output' }] }],
});
if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
const unit = parsed.site.units[0]!;

const event = (
  kind: EventDraft['kind'],
  from: number,
  to: number,
  more: Partial<EventDraft> = {},
): EventDraft => ({
  id: `${kind} ${from}`,
  site: 'rowan',
  panel: 'panel-a',
  unit: null,
  space: null,
  kind,
  cause: null,
  start: exactly(seconds(from)),
  end: exactly(seconds(to)),
  certainty: 'certain',
  causeCertainty: null,
  pending: [],
  measures: {},
  candidates: [],
  evidence: [],
  members: [],
  discriminator: '',
  ...more,
});
const dip = (at: number, residual: number | readonly [number, number]): EventDraft =>
  event('voltage-sag', at, at + 1, { measures: { residualPerUnit: residual as number } });
const run = (from: number, to: number, cause: EventDraft['cause']): EventDraft =>
  event('compressor-run', from, to, { unit: 'unit-1', cause });

describe('the margin of a unit', () => {
  it('at ratio 26/240 an 18 V trip drops it at 166 V, 69 % of the line [handbook 5.2]', () => {
    const margin = marginOf(unit, 26 / 240, 240);
    expect(Math.round(margin.volts[0])).toBe(166);
    expect(Math.round(100 * margin.perUnit[1])).toBe(69);
    expect(foreseen(margin, [0.6, 0.6])).toBe('drops');
    expect(foreseen(margin, [0.75, 0.8])).toBe('rides-through');
    expect(foreseen(margin, [0.6, 0.8])).toBe('indeterminate');
  });

  it('without a trip its contactor lets go between 75 % and 20 % of the coil’s 24 V [IEC 60947-4-1, handbook 5.2]', () => {
    const undervoltageTrip = { value: null, known: 'recorded' as const };
    const margin = marginOf({ protection: { ...unit.protection, undervoltageTrip } }, 0.1, 240);
    expect(margin.volts.map(Math.round)).toEqual([48, 180]);
    expect(foreseen(margin, [0.5, 0.5])).toBe('indeterminate');
  });

  it('the ratio is the median of ordinary running: a dip and a dead control take no part', () => {
    const pairs = [26, 26.2, 25.8, 26, 26.1].map((control) => ({ line: 240, control }));
    const odd = [
      { line: 150, control: 24 },
      { line: 240, control: 0 },
    ];
    expect(controlRatio([...pairs, ...odd], 240)).toBeCloseTo(26 / 240, 6);
    expect(controlRatio(pairs.slice(0, 4), 240)).toBeNull();
  });
});

describe('what dips have shown of a unit', () => {
  const dropped = (at: number) => [run(at - 100, at + 0.1, 'undervoltage')];
  const rode = (at: number) => [run(at - 100, at + 500, 'call-ended')];

  it('it drops somewhere between its highest drop and its lowest ride-through', () => {
    const learned = susceptibilityOf(unit, [
      { dip: dip(1000, 0.55), events: dropped(1000) },
      { dip: dip(2000, 0.64), events: dropped(2000) },
      { dip: dip(3000, 0.78), events: rode(3000) },
      { dip: dip(4000, 0.85), events: rode(4000) },
      { dip: dip(5000, 0.5), events: [] },
    ]);
    expect(learned).toMatchObject({
      events: 4,
      drops: 2,
      droppedAt: [0.64, 0.64],
      rodeAt: [0.78, 0.78],
      level: [0.64, 0.78],
    });
  });

  it('a residual that is only bounded bounds the level no better', () => {
    const learned = susceptibilityOf(unit, [
      { dip: dip(1000, [0.4, 0.7]), events: dropped(1000) },
      { dip: dip(3000, [0.6, 0.8]), events: rode(3000) },
    ]);
    expect(learned.level).toEqual([0.4, 0.8]);
  });

  it('dips that contradict one level say so', () => {
    const learned = susceptibilityOf(unit, [
      { dip: dip(1000, 0.8), events: dropped(1000) },
      { dip: dip(3000, 0.7), events: rode(3000) },
    ]);
    expect(learned).toMatchObject({ contradicts: true, level: null });
  });
});

describe('stretches of uncertain time', () => {
  const stretch = (a: number, b: number, c: number, d: number): Stretch => ({
    from: { earliest: seconds(a), latest: seconds(b) },
    to: { earliest: seconds(c), latest: seconds(d) },
  });

  it('cover at least what is sure and at most what may be', () => {
    expect(covered([stretch(0, 1, 9, 10), stretch(5, 6, 19, 21)], 0)).toEqual([18, 21]);
  });

  it('what others cover is taken off, the other way round', () => {
    expect(uncovered([stretch(0, 0, 100, 100)], [stretch(40, 45, 60, 62)], 0)).toEqual([78, 85]);
  });
});

describe('for how many sites all is known', () => {
  const word = (site: string, lastLife: number | null, silentSince: number | null = null) => ({
    site,
    gateway: 'gateway',
    lastLife,
    silentSince,
  });

  it('a gateway that was last heard before the event hasn’t delivered; nor has one that is silent since within it', () => {
    const words = [word('elm', 500), word('oak', 90), word('yew', 500, 120), word('fir', null)];
    const told = completenessOf(words, [], { from: 100, through: 200 });
    expect([told.known, told.sites]).toEqual([1, 4]);
    expect(told.missing.map(({ site }) => site)).toEqual(['fir', 'oak', 'yew']);
  });

  it('a silence that nothing came later to close counts, one before the event doesn’t', () => {
    const silences = [
      { site: 'elm', gateway: 'gateway', from: 110, to: 150 },
      { site: 'oak', gateway: 'gateway', from: 10, to: 50 },
    ];
    const told = completenessOf([word('elm', 500), word('oak', 500)], silences, { from: 100, through: 200 });
    expect(told.missing.map(({ site }) => site)).toEqual(['elm']);
  });
});
