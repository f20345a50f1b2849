import fc from 'fast-check';
import { describe, expect, it } from 'vitest';
import { offMinutes, onMinutes, startsPerHour } from '../../shared/cooling/cycling.ts';
import { linearSeconds, oneMassSeconds, twoMassSeconds } from '../../shared/cooling/warm-up.ts';

/** Check values of handbook 9, [computed] unless said. */
const SHELTER = { start: 24, outdoors: 35, conductance: 40, heat: 4000 };

describe('the cycling curve [NEMA/Henderson form, from memory; computed]', () => {
  it('at 3 starts an hour and a quarter load: 2.25 an hour, 6.667 min on, 20 min off', () => {
    expect(startsPerHour(3, 0.25)).toBeCloseTo(2.25, 12);
    expect(onMinutes(3, 0.25)).toBeCloseTo(6.667, 3);
    expect(offMinutes(3, 0.25)).toBeCloseTo(20, 12);
  });

  it('at half load: 3 an hour, 10 min on, 10 min off', () => {
    expect([startsPerHour(3, 0.5), onMinutes(3, 0.5), offMinutes(3, 0.5)]).toEqual([3, 10, 10]);
  });

  it('on and off times make up the hour', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 1, max: 12, noNaN: true }),
        fc.double({ min: 0.01, max: 0.99, noNaN: true }),
        (n, x) => {
          expect(startsPerHour(n, x) * (onMinutes(n, x) + offMinutes(n, x))).toBeCloseTo(60, 6);
        },
      ),
    );
  });
});

describe('time to the limit', () => {
  const one = { ...SHELTER, capacity: 1.2e6 };

  it('one mass, 24 to 40 °C: 77.83 min; to 50 °C: 133.44 min', () => {
    expect(oneMassSeconds({ ...one, limit: 40 })! / 60).toBeCloseTo(77.83, 2);
    expect(oneMassSeconds({ ...one, limit: 50 })! / 60).toBeCloseTo(133.44, 2);
  });

  it('never where what drives it ends below the limit', () => {
    const cool = { start: 24, limit: 40, outdoors: 20, conductance: 100, heat: 1500, capacity: 1e6 };
    expect(oneMassSeconds(cool)).toBeNull();
    expect(twoMassSeconds({ ...cool, air: 2e5, mass: 8e5, coupling: 400 })).toBeNull();
  });

  it('two masses of 0.2 and 1.0 MJ/K, coupled by 400 W/K: 46.48 min', () => {
    const two = { ...SHELTER, limit: 40, air: 0.2e6, mass: 1e6, coupling: 400 };
    expect(twoMassSeconds(two)! / 60).toBeCloseTo(46.48, 2);
  });

  it('two masses reach the limit sooner than one of their sum, and the sooner the looser they are coupled', () => {
    fc.assert(
      fc.property(
        fc.double({ min: 0.05, max: 0.6, noNaN: true }),
        fc.double({ min: 50, max: 2000, noNaN: true }),
        (share, coupling) => {
          const space = { ...SHELTER, limit: 45, air: share * 1.2e6, mass: (1 - share) * 1.2e6 };
          const seconds = twoMassSeconds({ ...space, coupling })!;
          expect(seconds).toBeLessThanOrEqual(
            oneMassSeconds({ ...SHELTER, limit: 45, capacity: 1.2e6 })! + 1e-3,
          );
          expect(twoMassSeconds({ ...space, coupling: coupling / 2 })!).toBeLessThanOrEqual(seconds + 1e-3);
        },
      ),
    );
  });

  it('the linear bound never comes later than the model', () => {
    const rise = (SHELTER.heat - SHELTER.conductance * (24 - 35)) / 1.2e6;
    expect(linearSeconds(24, 40, rise)!).toBeLessThan(oneMassSeconds({ ...one, limit: 40 })!);
    expect(linearSeconds(41, 40, rise)).toBe(0);
    expect(linearSeconds(24, 40, 0)).toBeNull();
  });
});
