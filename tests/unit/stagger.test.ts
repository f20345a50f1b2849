import { describe, expect, it } from 'vitest';
import { phasor } from '../../shared/power/starting-dip.ts';
import { likelihoodApart, likelihoodAtRandom } from '../../shared/stagger/probability.ts';
import { planStagger } from '../../shared/stagger/plan.ts';
import {
  generatorOf,
  startingCapacity,
  USUAL_TRANSIENT_REACTANCE,
  utilityOf,
  voltageWhile,
  type StartSupply,
} from '../../shared/stagger/supply.ts';
import { nominalWait, settings, USUAL_ERRORS, waitAsItIs } from '../../shared/stagger/waits.ts';
import { planAsk, planUnit } from '../fixtures/stagger.ts';

const SAME = ['a', 'b', 'c', 'd', 'e'].map((id) => planUnit(id, 210));
const fine = { step: 0.1, floor: 180, most: 300 };
const waits = (plan: ReturnType<typeof planStagger>) =>
  plan.units.map(({ proposed }) => Math.round(proposed.nominal * 100) / 100);

describe('waits (handbook 2.1, worked)', () => {
  it.each([
    [210, 141],
    [30, 123],
    [300, 150],
  ])('%i s makes %i s [practice, computed]', (offDelay, wait) => {
    expect(nominalWait(planUnit('a', offDelay), offDelay)).toBeCloseTo(wait, 9);
  });

  it('two set 30 s apart wait 3 s apart, 20 s apart 2 s [computed]', () => {
    const wait = (offDelay: number) => nominalWait(planUnit('a', offDelay), offDelay);
    expect([wait(240) - wait(210), wait(230) - wait(210)].map((s) => Math.round(s * 1e9) / 1e9)).toEqual([
      3, 2,
    ]);
  });

  it('a dial can be set from its floor to 300 s in its steps', () => {
    expect(settings({ step: 10, floor: 180, most: 300 })).toHaveLength(13);
    expect(settings({ step: 20, floor: 180, most: 300 })).toEqual([190, 210, 230, 250, 270, 290]);
    expect(settings({ step: 10, floor: 30, most: 300 }).slice(0, 2)).toEqual([30, 40]);
  });

  it('what was seen counts before what is written down, where it is narrower or speaks against it', () => {
    const seen = (powerUp: [number, number]) => planUnit('a', 210, { seen: { powerUp, offDelay: null } });
    expect(waitAsItIs(seen([142.6, 142.8]), USUAL_ERRORS)).toMatchObject({ by: 'measured', nominal: 142.7 });
    expect(waitAsItIs(seen([146, 147]), USUAL_ERRORS)).toMatchObject({ by: 'measured', nominal: 146.5 });
    // "not longer than" says less than the record
    expect(waitAsItIs(seen([0, 150]), USUAL_ERRORS)).toMatchObject({ by: 'recorded', nominal: 141 });
    expect(waitAsItIs(planUnit('a', 210, { known: 'assumed' }), USUAL_ERRORS)).toBeNull();
    const off = planUnit('a', 210, { seen: { powerUp: null, offDelay: [212, 213] } });
    const measured = waitAsItIs(off, USUAL_ERRORS)!;
    // 120 s ± 1 %, and a tenth of what was seen
    expect(measured.wait[0]).toBeCloseTo((118.8 + 21.2) * 0.998, 9);
    expect(measured.wait[1]).toBeCloseTo((121.2 + 21.3) * 1.002, 9);
  });
});

describe('how many fit into 180–300 s, which spans 12 s (handbook 5.4 [computed])', () => {
  const ask = (count: number, more: Parameters<typeof planAsk>[1]) =>
    planStagger(planAsk(SAME.slice(0, count), { settable: fine, ...more }));

  it('five at 3 s nominal: 138, 141, 144, 147, 150', () => {
    const plan = ask(5, { hold: 'nominal' });
    expect([plan.outcome, plan.hold]).toEqual(['apart', 'nominal']);
    expect(waits(plan)).toEqual([138, 141, 144, 147, 150]);
    const six = planStagger(planAsk([...SAME, planUnit('f', 210)], { settable: fine, hold: 'nominal' }));
    expect(six.outcome).not.toBe('apart');
  });

  it('three guaranteed where each timer may be 1 % off: 138, 143.82, 149.75', () => {
    const exact = { step: 0.001, floor: 180, most: 300 };
    const units = SAME.slice(0, 3).map((unit) => ({ ...unit, known: 'assumed' as const }));
    const plan = planStagger(
      planAsk(units, { settable: exact, hold: 'timers', errors: { ...USUAL_ERRORS, isHandSet: false } }),
    );
    expect(plan.outcome).toBe('apart');
    for (const { timersOnly } of plan.spacings) expect(timersOnly).toBeGreaterThanOrEqual(3 - 1e-9);
    const [first, second, third] = plan.units.map(({ proposed }) => proposed.nominal);
    expect([first, second!.toFixed(2), third!.toFixed(2)]).toEqual([138, '143.82', '149.75']);
    expect(ask(4, { hold: 'timers' }).outcome).not.toBe('apart');
  });

  it('two with ±10 s of hand-setting besides', () => {
    expect(ask(2, { hold: 'worst-case' })).toMatchObject({ outcome: 'apart', hold: 'worst-case' });
    expect(ask(3, { hold: 'worst-case' }).outcome).not.toBe('apart');
  });

  it('asked for the strictest that holds, it says which', () => {
    expect([2, 3, 4, 5].map((count) => ask(count, {}).hold)).toEqual([
      'worst-case',
      'timers',
      'nominal',
      'nominal',
    ]);
  });
});

describe('which settings are changed', () => {
  it('one of two that are set alike; the one that is named first stays', () => {
    const plan = planStagger(
      planAsk([planUnit('a', 210), planUnit('b', 210), planUnit('c', 240)], { hold: 'nominal' }),
    );
    expect(plan.changes).toBe(1);
    expect(plan.likelihood.now!.value).toBeLessThan(plan.likelihood.proposed.value);
  });

  it('none where they are apart already', () => {
    const plan = planStagger(
      planAsk([planUnit('a', 180), planUnit('b', 240), planUnit('c', 300)], { hold: 'timers' }),
    );
    expect(plan).toMatchObject({ changes: 0, price: { laterSeconds: 0, offDelayLaterSeconds: 0 } });
  });

  it('from what was seen: 210 and 240 s in the record, but one waits 146.9 s', () => {
    const slow = planUnit('b', 240, { seen: { powerUp: [146.8, 147], offDelay: null } });
    const plan = planStagger(planAsk([planUnit('a', 210), slow], { hold: 'timers' }));
    expect(plan).toMatchObject({ changes: 0 });
    expect(plan.units.map(({ id, by }) => [id, by])).toEqual([
      ['a', 'recorded'],
      ['b', 'measured'],
    ]);
  });

  it('largest starts first, as far as that takes no further change', () => {
    const units = [
      planUnit('small', 210, { amps: 40 }),
      planUnit('large', 210, { amps: 120 }),
      planUnit('middle', 210, { amps: 80 }),
    ];
    const plan = planStagger(
      planAsk(units, { hold: 'nominal', settable: { step: 30, floor: 210, most: 270 } }),
    );
    expect(plan.changes).toBe(2);
    expect(plan.units.map(({ id }) => id)).toEqual(['large', 'middle', 'small']);
  });

  it('a delay that nobody has written down is to be set, or read at least', () => {
    const plan = planStagger(
      planAsk([planUnit('a', 210, { known: 'assumed' }), planUnit('b', 240)], { hold: 'nominal' }),
    );
    expect(plan.units.filter(({ isChange }) => isChange).map(({ id }) => id)).toEqual(['a']);
    expect(plan.likelihood.now).toBeNull();
  });

  it('its price: cooling returns up to 9 s later, and up to 90 s later after an ordinary stop', () => {
    const plan = planStagger(
      planAsk([planUnit('a', 210), planUnit('b', 210)], {
        hold: 'timers',
        settable: { step: 90, floor: 210, most: 300 },
      }),
    );
    expect(plan.price).toEqual({ laterSeconds: 9, offDelayLaterSeconds: 90 });
  });
});

describe('where they don’t fit', () => {
  const supply = (impedance: number): StartSupply => ({
    kind: 'utility',
    volts: 240,
    phases: 1,
    impedance: phasor(impedance, impedance),
    standingAmps: 0,
  });

  it('they start in groups that the supply bears together, the fewest in company', () => {
    const six = ['a', 'b', 'c', 'd', 'e', 'f'].map((id) => planUnit(id, 210));
    const plan = planStagger(planAsk(six, { hold: 'nominal', supplies: [supply(0.02)] }));
    expect(plan.outcome).toBe('groups');
    expect(plan.groups.map(({ units }) => units.length).sort()).toEqual([1, 1, 1, 1, 2]);
    for (const { voltages } of plan.groups) expect(voltages[0]!.isBorne).toBe(true);
  });

  it('a supply that bears one at a time leaves other means', () => {
    const six = ['a', 'b', 'c', 'd', 'e', 'f'].map((id) => planUnit(id, 210));
    const weak = supply(0.25);
    expect(voltageWhile(weak, 96, 0.7)).toBeGreaterThan(0.85);
    expect(startingCapacity(weak, 0.85, 0.7)).toBeLessThan(192);
    expect(planStagger(planAsk(six, { hold: 'nominal', supplies: [weak] })).outcome).toBe('other-means');
  });

  it('what starts on the generator alone is judged on its impedance', () => {
    const six = ['a', 'b', 'c', 'd', 'e', 'f'].map((id, i) => planUnit(id, 210, { isOnGenerator: i < 2 }));
    const generator: StartSupply = { ...supply(0), kind: 'generator', impedance: phasor(0, 0.24) };
    const plan = planStagger(planAsk(six, { hold: 'nominal', supplies: [supply(0.01), generator] }));
    const onGenerator = plan.groups.flatMap(({ voltages }) =>
      voltages.filter(({ supply: kind }) => kind === 'generator'),
    );
    expect(onGenerator.filter(({ share }) => share !== 1)).toHaveLength(2);
  });
});

describe('what the panel’s record says of its supply', () => {
  const panel = {
    id: 'panel-a',
    name: 'Panel A',
    nominalVoltage: 240,
    phases: 1 as const,
    frequency: 60,
    supply: { kind: 'transformer' as const, ratedKva: 25, impedancePercent: 2, reactanceToResistance: 1.5 },
    generator: null,
    startVoltageLimit: 0.9,
    minimumStartSeparationSeconds: 2,
    points: [],
  };

  it('one start of 96 A on 25 kVA 2 % alone leaves more than with 75 ft of conductors: 2.3002 % there (handbook 9)', () => {
    const alone = 1 - voltageWhile(utilityOf(panel, 0)!, 96, 0.736);
    expect(alone).toBeGreaterThan(0.015);
    expect(alone).toBeLessThan(0.023002);
  });

  it('what runs beside leaves less; the most that may start leaves just what must stay', () => {
    const [idle, loaded] = [utilityOf(panel, 0)!, utilityOf(panel, 60)!];
    expect(voltageWhile(loaded, 96, 0.7)).toBeLessThan(voltageWhile(idle, 96, 0.7));
    const most = startingCapacity(loaded, 0.85, 0.7);
    expect(voltageWhile(loaded, most, 0.7)).toBeCloseTo(0.85, 9);
  });

  it('a generator is its transient reactance: 30 kVA at 0.25 is 0.48 ohms on 240 V', () => {
    const rating = { ratedKva: 30, transientReactance: USUAL_TRANSIENT_REACTANCE };
    expect(generatorOf(panel, rating, 0).impedance).toEqual({ re: 0, im: expect.closeTo(0.48, 9) });
    const fed = {
      ...panel,
      supply: { ...panel.supply, kind: 'generator' as const, ratedKva: 30, impedancePercent: 25 },
    };
    expect(utilityOf(fed, 0)).toEqual(generatorOf(panel, rating, 0));
    expect(utilityOf({ ...panel, supply: null }, 0)).toBeNull();
  });
});

describe('how likely all starts are apart', () => {
  it('four at random in 120 s, 5 s apart: 0.5862 (handbook 9 [computed])', () => {
    expect(likelihoodAtRandom(4, 5, 120)).toBeCloseTo(0.5862, 4);
    const spread = { middle: 60, timer: 60, dial: 0 };
    const found = likelihoodApart([spread, spread, spread, spread], 5);
    expect(found.isAtLeast).toBe(false);
    expect(found.value).toBeCloseTo(0.5862, 3);
  });

  it('two of the same spread: the area where they differ by more [computed]', () => {
    const spread = { middle: 141, timer: 1.41, dial: 0 };
    // P(|X − Y| ≥ s) = (1 − s / 2w)² for two even spreads of half width w
    expect(likelihoodApart([spread, spread], 1).value).toBeCloseTo((1 - 1 / 2.82) ** 2, 3);
    expect(likelihoodApart([spread, spread], 3).value).toBe(0);
  });

  it('what can’t come closer is certain; what always does is impossible', () => {
    const at = (middle: number) => ({ middle, timer: 0.5, dial: 0.5 });
    expect(likelihoodApart([at(140), at(145), at(150)], 3).value).toBeCloseTo(1, 9);
    const still = { middle: 140, timer: 0, dial: 0 };
    expect(likelihoodApart([still, still], 1).value).toBe(0);
  });

  it('of many it looks at the planned order alone, and says that it may be more', () => {
    const many = Array.from({ length: 14 }, () => ({ middle: 140, timer: 10, dial: 0 }));
    expect(likelihoodApart(many, 0.1).isAtLeast).toBe(true);
  });
});
