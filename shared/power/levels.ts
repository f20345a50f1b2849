/** The steady level of the voltage, and how even its three line-to-line voltages are (handbook 5.1). */

/**
 * ANSI C84.1 at the point of service, by the 120 V figures: range A 114–126 V (±5 %), range B 110–127 V. B is for short
 * times only. On an edge is inside.
 */
const NOMINAL = 120;
const RANGE_A = [114, 126] as const;
const RANGE_B = [110, 127] as const;
const ROUNDING = 1e-9;

export type VoltageRange = 'A' | 'B' | 'below B' | 'above B';

export function voltageRange(volts: number, nominalVolts: number): VoltageRange {
  const scaled = (volts / nominalVolts) * NOMINAL;
  if (scaled >= RANGE_A[0] - ROUNDING && scaled <= RANGE_A[1] + ROUNDING) return 'A';
  if (scaled < RANGE_B[0] - ROUNDING) return 'below B';
  return scaled > RANGE_B[1] + ROUNDING ? 'above B' : 'B';
}

/** Volts [low, high] of a range. */
export const rangeVolts = (range: 'A' | 'B', nominalVolts: number): readonly [number, number] => {
  const [low, high] = range === 'A' ? RANGE_A : RANGE_B;
  return [(low / NOMINAL) * nominalVolts, (high / NOMINAL) * nominalVolts];
};

/** Line-to-line voltages A–B, B–C, C–A in volts. */
export type LineVoltages = readonly [ab: number, bc: number, ca: number];

/** 100 · max|Vᵢ − V̄| / V̄ in percent [NEMA MG 1]. */
export function unbalancePercent(volts: LineVoltages): number {
  const mean = volts.reduce((sum, one) => sum + one, 0) / 3;
  return (100 * Math.max(...volts.map((one) => Math.abs(one - mean)))) / mean;
}

/**
 * Is one leg lost? Then the three line-to-line voltages lie on one line instead of spanning a triangle: the two lesser add
 * up to the greatest (in a sound supply to twice as much). A motor that runs on holds the lost leg up, so "no" proves
 * little; and two legs short-circuited look alike, for the moment that lasts: ask of steady voltages only. [our choice of limit]
 */
const COLLAPSED = 1.2;
export function isSinglePhasing(volts: LineVoltages): boolean {
  const [least, middle, most] = [...volts].sort((a, b) => a - b) as [number, number, number];
  return most > 0 && least + middle <= COLLAPSED * most;
}

/**
 * A three-phase dip in two figures, whatever was wired and however the fault lay: the lowest of the six voltages, three
 * line to line and three line to neutral without zero sequence, and the highest of them [Bollen, Understanding Power
 * Quality Problems, six-phase algorithm; from memory]. Per unit of declared; line-to-line magnitudes suffice, for without
 * zero sequence the neutral is the centre of their triangle. null where they span none.
 */
export function characteristicVoltage(
  lines: LineVoltages,
): { readonly lowest: number; readonly highest: number } | null {
  const [least, middle, most] = [...lines].sort((a, b) => a - b) as [number, number, number];
  if (least < 0 || least + middle < most * (1 - 1e-6)) return null;
  const [ab, bc, ca] = lines;
  // from the corner between two sides to the centre: a third of √(2x² + 2y² − z²), per unit of declared / √3
  const legs = [
    [ab, ca, bc],
    [ab, bc, ca],
    [bc, ca, ab],
  ].map(([x, y, z]) => Math.sqrt(Math.max(0, 2 * x! ** 2 + 2 * y! ** 2 - z! ** 2)) / Math.sqrt(3));
  const six = [...lines, ...legs];
  return { lowest: Math.min(...six), highest: Math.max(...six) };
}
