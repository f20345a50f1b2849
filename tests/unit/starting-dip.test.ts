import { describe, expect, it } from 'vitest';
import {
  added,
  admittance,
  conductorImpedance,
  dipByAvailableAmps,
  dipPercentForm,
  dipShare,
  generatorImpedance,
  loadImpedance,
  loadVoltage,
  lockedRotorAmps,
  magnitude,
  phasor,
  sourceFor,
  transformerImpedance,
  voltageAtStart,
} from '../../shared/power/starting-dip.ts';

/** Check values of handbook 9. */
describe('the dip while a motor starts', () => {
  it('percent form: 45 kVA 5 %, 125 A full load, 720 A start is 28.8 %; 75 kVA is 17.3 % [worked example]', () => {
    expect(dipPercentForm(5, 720, 125)).toBeCloseTo(28.8, 9);
    expect(dipPercentForm(5, 720, (125 * 75) / 45)).toBeCloseTo(17.3, 1);
  });

  it('divider: 600 A on 5,000 A available is 10.7 % [worked example]', () => {
    expect(dipByAvailableAmps(600, 5000)).toBeCloseTo(10.7, 1);
  });

  it('phasor: 0.8041 per unit against the published 0.8040, 19.6 % [Sheldrake, Handbook of Electrical Engineering, Wiley 2003, App. G]', () => {
    const source = phasor(0.02, 0.25);
    const standing = phasor(1.7388, 0.9262);
    const motor = phasor(0.2391, 0.9259);
    const emf = sourceFor(1, source, admittance([standing]));
    expect(emf.re).toBeCloseTo(1.0686, 4);
    expect(emf.im).toBeCloseTo(0.1072, 4);
    const during = magnitude(loadVoltage(emf, source, admittance([standing, motor])));
    expect(during).toBeCloseTo(0.8041, 4);
    expect(100 * dipShare(1, during)).toBeCloseTo(19.6, 1);
  });

  it('together: one start 234.480 V (2.3002 %), two at once 229.207 V (4.4971 %) [computed]', () => {
    const transformer = transformerImpedance({ volts: 240, kva: 25, percent: 2, reactanceToResistance: 1.5 });
    const source = added(transformer, conductorImpedance(75, phasor(0.1, 0.03), 2));
    const motor = loadImpedance({ volts: 240, amps: 96, powerFactor: 0.736, phases: 1 });
    const one = voltageAtStart(240, source, motor, 1);
    const two = voltageAtStart(240, source, motor, 2);
    expect(one).toBeCloseTo(234.48, 3);
    expect(two).toBeCloseTo(229.207, 3);
    expect(100 * dipShare(240, one)).toBeCloseTo(2.3002, 4);
    expect(100 * dipShare(240, two)).toBeCloseTo(4.4971, 4);
  });

  it('locked-rotor amps: 20 hp at 460 V three-phase, code G (6.29 kVA/hp), 158 A [NEC 430.7(B) handbook example]', () => {
    expect(lockedRotorAmps(20, 6.29, 460, 3)).toBeCloseTo(158, 0);
  });

  it('a three-phase motor takes its rated amps at its rated voltage, per phase', () => {
    const motor = loadImpedance({ volts: 460, amps: 158, powerFactor: 0.4, phases: 3 });
    expect(460 / Math.sqrt(3) / magnitude(motor)).toBeCloseTo(158, 9);
  });

  it('a generator dips by its transient reactance: 0.25 per unit and a start of its whole rating at no power factor, 20 %', () => {
    const source = generatorImpedance(240, 24, 0.25);
    const motor = loadImpedance({ volts: 240, amps: 100, powerFactor: 0, phases: 1 });
    expect(100 * dipShare(240, voltageAtStart(240, source, motor, 1))).toBeCloseTo(20, 9);
  });
});
