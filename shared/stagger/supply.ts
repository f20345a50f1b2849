import {
  added,
  generatorImpedance,
  inverse,
  loadImpedance,
  loadVoltage,
  magnitude,
  NO_LOAD,
  phasor,
  transformerImpedance,
  type Phasor,
} from '../power/starting-dip.ts';
import type { Panel } from '../telemetry/site.ts';

/**
 * What starting together does to a panel's voltage, and how many amps may (handbook 5.5): the phasor divider, with whatever
 * else of the panel is running beside. Voltages are shares of the nominal.
 */
export interface StartSupply {
  readonly kind: 'utility' | 'generator';
  readonly volts: number;
  readonly phases: 1 | 3;
  /** ohms per phase */
  readonly impedance: Phasor;
  /** rated amps of all units, running beside a start */
  readonly standingAmps: number;
}

/** Locked-rotor power factor of a small compressor, and a running one's [from memory; a setting]. */
export const USUAL_START_POWER_FACTOR = 0.7;
const RUN_POWER_FACTOR = 0.9;

/** A contactor must pull in from 85 % of its voltage on; below that it may not [IEC 60947-4-1]. */
export const USUAL_LOWEST_VOLTAGE = 0.85;

/** A generator's transient reactance where none is said, per unit [from memory; a setting]. */
export const USUAL_TRANSIENT_REACTANCE = 0.25;

export interface GeneratorRating {
  readonly ratedKva: number;
  readonly transientReactance: number;
}

/** What feeds the panel, as recorded; null: nothing is recorded. Its percentage is X′d where it is a generator. */
export function utilityOf(
  { supply, nominalVoltage, phases }: Panel,
  standingAmps: number,
): StartSupply | null {
  if (!supply) return null;
  if (supply.kind === 'generator')
    return generatorOf(
      { nominalVoltage, phases },
      { ratedKva: supply.ratedKva, transientReactance: supply.impedancePercent / 100 },
      standingAmps,
    );
  const impedance = transformerImpedance({
    volts: nominalVoltage,
    kva: supply.ratedKva,
    percent: supply.impedancePercent,
    reactanceToResistance: supply.reactanceToResistance,
  });
  return { kind: 'utility', volts: nominalVoltage, phases, impedance, standingAmps };
}

export const generatorOf = (
  { nominalVoltage, phases }: Pick<Panel, 'nominalVoltage' | 'phases'>,
  { ratedKva, transientReactance }: GeneratorRating,
  standingAmps: number,
): StartSupply => ({
  kind: 'generator',
  volts: nominalVoltage,
  phases,
  impedance: generatorImpedance(nominalVoltage, ratedKva, transientReactance),
  standingAmps,
});

/** Share of the voltage that is left while `amps` of locked rotors start. */
export function voltageWhile(supply: StartSupply, amps: number, powerFactor: number): number {
  const load = added(
    admittanceOf(supply, amps, powerFactor),
    admittanceOf(supply, supply.standingAmps, RUN_POWER_FACTOR),
  );
  return magnitude(loadVoltage(phasor(1, 0), supply.impedance, load));
}

const admittanceOf = ({ volts, phases }: StartSupply, amps: number, powerFactor: number): Phasor =>
  amps <= 0 ? NO_LOAD : inverse(loadImpedance({ volts, amps, powerFactor, phases }));

const MOST_AMPS = 1e6;

/** The most locked-rotor amps that leave `lowest` of the voltage; 0 where not even the running load does. */
export function startingCapacity(supply: StartSupply, lowest: number, powerFactor: number): number {
  let [bears, fails] = [0, MOST_AMPS];
  if (voltageWhile(supply, 0, powerFactor) < lowest) return 0;
  for (let n = 0; n < 60; n++) {
    const middle = (bears + fails) / 2;
    if (voltageWhile(supply, middle, powerFactor) >= lowest) bears = middle;
    else fails = middle;
  }
  return bears;
}
