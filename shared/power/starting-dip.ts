/**
 * How far the voltage dips while motors start (handbook 5.5). The phasor divider is the truth: a source behind an
 * impedance feeds the loads, V = E · Z_load / (Z_source + Z_load). The simpler forms overstate; they are here to compare.
 * Impedances are ohms per phase, as seen by the motor: single phase with the loop impedance, three phase line to neutral.
 * The same code draws the simulated building's line voltage and predicts the dip of starts on a real panel.
 */
export interface Phasor {
  readonly re: number;
  readonly im: number;
}

export const NO_LOAD: Phasor = { re: 0, im: 0 };

export const phasor = (re: number, im: number): Phasor => ({ re, im });
export const added = (a: Phasor, b: Phasor): Phasor => ({ re: a.re + b.re, im: a.im + b.im });
const times = (a: Phasor, b: Phasor): Phasor => ({
  re: a.re * b.re - a.im * b.im,
  im: a.re * b.im + a.im * b.re,
});
const scaled = (a: Phasor, by: number): Phasor => ({ re: a.re * by, im: a.im * by });
export const magnitude = (a: Phasor): number => Math.sqrt(a.re * a.re + a.im * a.im);
/** 1 / a */
export function inverse(a: Phasor): Phasor {
  const square = a.re * a.re + a.im * a.im;
  return { re: a.re / square, im: -a.im / square };
}

/** A load that takes `amps` at `volts` (line to line where three phase) and this power factor, as an impedance. */
export interface RatedLoad {
  readonly volts: number;
  readonly amps: number;
  readonly powerFactor: number;
  readonly phases: 1 | 3;
}

/** Zm = V / (k · I) · (pf + j√(1 − pf²)); k is 1 for single phase, √3 for three phase (handbook 5.5). */
export function loadImpedance({ volts, amps, powerFactor, phases }: RatedLoad): Phasor {
  const ohms = volts / ((phases === 3 ? Math.sqrt(3) : 1) * amps);
  return phasor(ohms * powerFactor, ohms * Math.sqrt(1 - powerFactor * powerFactor));
}

export interface TransformerRating {
  readonly volts: number;
  readonly kva: number;
  /** Z% of the nameplate */
  readonly percent: number;
  readonly reactanceToResistance: number;
}

/** Z% · V² / S, split by X/R. */
export function transformerImpedance(rating: TransformerRating): Phasor {
  const ohms = ((rating.percent / 100) * rating.volts * rating.volts) / (rating.kva * 1000);
  const resistance = ohms / Math.sqrt(1 + rating.reactanceToResistance ** 2);
  return phasor(resistance, resistance * rating.reactanceToResistance);
}

/** Loop impedance of conductors: `perThousandFeet` in Ω/kft of one of them, there (and back: `conductors` 2). */
export const conductorImpedance = (feet: number, perThousandFeet: Phasor, conductors: 1 | 2): Phasor =>
  scaled(perThousandFeet, (feet * conductors) / 1000);

/** A generator's transient reactance X′d, per unit of its rating. */
export const generatorImpedance = (volts: number, kva: number, transientReactance: number): Phasor =>
  phasor(0, (transientReactance * volts * volts) / (kva * 1000));

/** Loads in parallel, as one admittance: what each takes is added. */
export const admittance = (loads: readonly Phasor[]): Phasor =>
  loads.reduce((sum, load) => added(sum, inverse(load)), NO_LOAD);

/** V = E / (1 + Zs · Y): the voltage at the loads. */
export const loadVoltage = (source: Phasor, sourceImpedance: Phasor, load: Phasor): Phasor =>
  times(source, inverse(added(phasor(1, 0), times(sourceImpedance, load))));

/** E such that the loads see `volts` (at angle 0): what the source must be to give this voltage with this load. */
export const sourceFor = (volts: number, sourceImpedance: Phasor, load: Phasor): Phasor =>
  scaled(added(phasor(1, 0), times(sourceImpedance, load)), volts);

/** Volts left while `together` like motors start on a source whose open-circuit voltage is `volts`. */
export const voltageAtStart = (
  volts: number,
  sourceImpedance: Phasor,
  motor: Phasor,
  together: number,
): number => magnitude(loadVoltage(phasor(volts, 0), sourceImpedance, scaled(inverse(motor), together)));

/** Share by which the voltage dips. */
export const dipShare = (before: number, during: number): number => 1 - during / before;

/** Percent form: Z% × starting amps / full-load amps of the transformer. Overstates. */
export const dipPercentForm = (percent: number, startAmps: number, fullLoadAmps: number): number =>
  (percent * startAmps) / fullLoadAmps;

/** Divider of magnitudes: starting amps against those available in a short circuit, in percent. Overstates. */
export const dipByAvailableAmps = (startAmps: number, availableAmps: number): number =>
  (100 * startAmps) / (availableAmps + startAmps);

/** Locked-rotor amps from the nameplate's code letter: kVA per horsepower (NEC Table 430.7(B)). */
export function lockedRotorAmps(
  horsepower: number,
  kvaPerHorsepower: number,
  volts: number,
  phases: 1 | 3,
): number {
  return (horsepower * kvaPerHorsepower * 1000) / (volts * (phases === 3 ? Math.sqrt(3) : 1));
}
