import type { Bounds } from '../base/span.ts';

/**
 * The impedance of a panel's source, from the starts that were seen on it (handbook 5.5). A voltmeter tells how far the
 * voltage fell and not by which angle, so of the start the power factor and of the source X/R are taken as ranges: each
 * pair of them is a case, in which every start gives one value, V before / V during = |1 + m·e^{jθ}| with m = |Zs|/|Zm| and
 * θ the angle between source and motor. What is stated covers every case, the scatter of the starts, and what nameplates or
 * ammeters may be off by.
 */
export interface FitStart {
  readonly unit: string;
  /** V */
  readonly before: number;
  readonly during: number;
  readonly within: number;
}

export interface FitUnit {
  readonly id: string;
  /** ohms per phase with its rotor locked, V/(k·I); null: neither nameplate nor ammeter tells */
  readonly ohms: number | null;
  /** share by which `ohms` may be off */
  readonly tolerance: number;
}

export interface FitRanges {
  /** of a locked rotor [0.6 to 0.85 for small single-phase compressors, from memory] */
  readonly powerFactor: Bounds;
  /** X/R of transformer and conductors together [from memory] */
  readonly reactanceToResistance: Bounds;
  /** share by which the supply itself may have moved between the two values [from memory] */
  readonly wander: number;
}

export const USUAL_RANGES: FitRanges = {
  powerFactor: [0.6, 0.85],
  reactanceToResistance: [0.5, 5],
  wander: 0.002,
};

/** Share by which a locked-rotor current may lie beside its nameplate's [from memory; a setting]. */
export const NAMEPLATE_TOLERANCE = 0.1;

/** In one case of angles: each seen unit's m with its standard error, and the source. */
export interface FitCase {
  /** θ, radians */
  readonly angle: number;
  readonly units: ReadonlyMap<string, UnitPull>;
  /** |Zs|, ohms per phase; null: no seen unit's ohms are known */
  readonly ohms: Bounds | null;
}

/** How hard a unit's start pulls on this source: m = |Zs|/|Zm|, and by how much that may be off. */
export interface UnitPull {
  readonly m: number;
  readonly error: number;
  readonly starts: number;
}

export interface SourceFit {
  readonly cases: readonly FitCase[];
  /** |Zs|, ohms per phase */
  readonly ohms: Bounds | null;
  readonly starts: number;
  /** V before the starts: the middle, and the range in which nine in ten lie */
  readonly before: number;
  readonly beforeRange: Bounds;
}

/** Share by which a transformer's impedance may lie beside its nameplate's [IEC 60076-1, from memory]. */
const TRANSFORMER_TOLERANCE = 0.1;

/** A source as recorded, where no start was seen: the same shape, with no unit's own pull. `before` in V. */
export const recordedSource = (ohms: number, before: number, ranges: FitRanges): SourceFit => {
  const bounds: Bounds = [ohms * (1 - TRANSFORMER_TOLERANCE), ohms * (1 + TRANSFORMER_TOLERANCE)];
  return {
    cases: anglesOf(ranges).map((angle) => ({ angle, units: new Map(), ohms: bounds })),
    ohms: bounds,
    starts: 0,
    before,
    beforeRange: [before, before],
  };
};

/** null: no start was seen. */
export function fitSource(
  starts: readonly FitStart[],
  units: readonly FitUnit[],
  ranges: FitRanges = USUAL_RANGES,
): SourceFit | null {
  const used = starts.filter(({ before, during }) => during > 0 && before > 0);
  if (used.length === 0) return null;
  const cases = anglesOf(ranges).map((angle) => caseOf(used, units, angle, ranges.wander));
  const known = cases.flatMap(({ ohms }) => (ohms ? [ohms] : []));
  const before = used.map((start) => start.before).sort((a, b) => a - b);
  return {
    cases,
    ohms: known.length === 0 ? null : hull(known),
    starts: used.length,
    before: quantile(before, 0.5),
    beforeRange: [quantile(before, 0.05), quantile(before, 0.95)],
  };
}

export const hull = (bounds: readonly Bounds[]): Bounds => [
  Math.min(...bounds.map(([low]) => low)),
  Math.max(...bounds.map(([, high]) => high)),
];

/** Nearest rank in sorted values. */
const quantile = (sorted: readonly number[], share: number): number =>
  sorted[Math.min(sorted.length - 1, Math.max(0, Math.round(share * (sorted.length - 1))))]!;

/** Angles between source and motor over both ranges: ends and what lies between. */
function anglesOf({ powerFactor, reactanceToResistance }: FitRanges): number[] {
  const source = reactanceToResistance.map((ratio) => Math.atan(ratio));
  const motor = powerFactor.map((factor) => Math.acos(factor));
  const [least, most] = [source[0]! - motor[0]!, source[1]! - motor[1]!];
  return [0, 0.25, 0.5, 0.75, 1].map((share) => least + share * (most - least));
}

/** m from V before / V during = |1 + m·e^{jθ}|; below 0 where the voltage rose, which scatter may do. */
function pullOf(ratio: number, angle: number): number {
  const sine = Math.sin(angle);
  const root = ratio * ratio - sine * sine;
  return root <= 0 ? 0 : Math.sqrt(root) - Math.cos(angle);
}

/** V during / V before while what pulls so hard starts. */
export const shareLeft = (m: number, angle: number): number =>
  1 / Math.hypot(1 + m * Math.cos(angle), m * Math.sin(angle));

function caseOf(
  starts: readonly FitStart[],
  units: readonly FitUnit[],
  angle: number,
  wander: number,
): FitCase {
  const pulls = new Map<string, UnitPull>();
  for (const id of new Set(starts.map(({ unit }) => unit)))
    pulls.set(
      id,
      unitPull(
        starts.filter(({ unit }) => unit === id),
        angle,
        wander,
      ),
    );
  return { angle, units: pulls, ohms: sourceOhms(pulls, units) };
}

function unitPull(starts: readonly FitStart[], angle: number, wander: number): UnitPull {
  const pulls = starts.map(({ before, during }) => pullOf(before / during, angle));
  const mean = pulls.reduce((sum, m) => sum + m, 0) / pulls.length;
  // what the meter and the supply may do to one start, as a standard deviation of uniform errors
  const own = Math.max(
    ...starts.map(
      ({ during, within }) => Math.hypot(within / during, within / during, wander) / Math.sqrt(3),
    ),
  );
  const slope = Math.max(0.2, Math.cos(angle));
  const spread =
    pulls.length < 2 ? 0 : Math.sqrt(pulls.reduce((sum, m) => sum + (m - mean) ** 2, 0) / (pulls.length - 1));
  return { m: mean, error: Math.max(spread, own / slope) / Math.sqrt(pulls.length), starts: pulls.length };
}

/** Each unit's own value; tolerances may lie the same way for all, so more units don't make them smaller. */
function sourceOhms(pulls: ReadonlyMap<string, UnitPull>, units: readonly FitUnit[]): Bounds | null {
  const values = units.flatMap(({ id, ohms, tolerance }) => {
    const pull = pulls.get(id);
    if (!pull || ohms === null) return [];
    const half = DEVIATIONS * pull.error * ohms;
    const middle = pull.m * ohms;
    return [{ middle, half, tolerance, weight: 1 / Math.max(half, 0.02 * middle, 1e-9) ** 2 }];
  });
  if (values.length === 0) return null;
  const weight = values.reduce((sum, value) => sum + value.weight, 0);
  const middle = values.reduce((sum, value) => sum + value.weight * value.middle, 0) / weight;
  const scatter =
    Math.sqrt(values.reduce((sum, value) => sum + (value.weight * value.half) ** 2, 0)) / weight;
  const tolerance = values.reduce((sum, value) => sum + value.weight * value.tolerance, 0) / weight;
  const half = Math.hypot(scatter, tolerance * middle);
  return [Math.max(0, middle - half), middle + half];
}

/** Standard errors to either side for nineteen in twenty, a little over since few starts say little of their scatter. */
const DEVIATIONS = 2.3;
export const FIT_DEVIATIONS = DEVIATIONS;
