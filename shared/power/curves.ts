/**
 * Yardsticks made for other equipment [handbook 5.1]: what matters is what each unit did. Residual voltages per unit,
 * durations in seconds. On a line is inside; figures like 0.7 are compared a little generously, so that rounding on the
 * way doesn't push them off the line.
 */
type Step = readonly [upToSeconds: number, residual: number];
const ROUNDING = 1e-9;

const atDuration = (curve: readonly Step[], seconds: number): number =>
  curve.find(([upTo]) => seconds <= upTo + ROUNDING)![1];

/** [ITIC 2000] */
const ITIC_LOWER: readonly Step[] = [
  [0.02, 0],
  [0.5, 0.7],
  [10, 0.8],
  [Infinity, 0.9],
];
const ITIC_UPPER: readonly Step[] = [
  [0.5, 1.2],
  [Infinity, 1.1],
];

export const isInsideItic = (residual: number, seconds: number): boolean =>
  residual >= atDuration(ITIC_LOWER, seconds) - ROUNDING &&
  residual <= atDuration(ITIC_UPPER, seconds) + ROUNDING;

/** [SEMI F47] Beyond a second it asks for nothing but the ordinary voltage. */
const SEMI_F47: readonly Step[] = [
  [0.2, 0.5],
  [0.5, 0.7],
  [1, 0.8],
  [Infinity, 0.9],
];

/** Must equipment that keeps to SEMI F47 have ridden through? */
export const isCoveredBySemiF47 = (residual: number, seconds: number): boolean =>
  residual >= atDuration(SEMI_F47, seconds) - ROUNDING;

/**
 * How severe a sag was beside the SEMI F47 curve: (1 − V) / (1 − V_curve(d)); 1 lies on the curve [IEEE 1564; its steps
 * at 20 ms and beyond 1 s from memory].
 */
const SEVERITY_CURVE: readonly Step[] = [
  [0.02, 0],
  [0.2, 0.5],
  [0.5, 0.7],
  [10, 0.8],
  [Infinity, 0.9],
];
export const severityOf = (residual: number, seconds: number): number =>
  (1 - residual) / (1 - atDuration(SEVERITY_CURVE, seconds));

/** Cells of the dip table of EN 50160: rows by residual voltage (at least), columns by duration (at most). */
const DIP_ROWS: readonly (readonly [letter: string, atLeast: number])[] = [
  ['A', 0.8],
  ['B', 0.7],
  ['C', 0.4],
  ['D', 0.05],
  ['X', 0],
];
const DIP_COLUMNS = [0.2, 0.5, 1, 5, 60];
/** [EN 50160, swells: from memory] */
const SWELL_ROWS: readonly (readonly [letter: string, atLeast: number])[] = [
  ['S', 1.2],
  ['T', 1.1],
];
const SWELL_COLUMNS = [0.5, 5, 60];
const SHORTEST_SECONDS = 0.01;

/** `A1` to `X5`, swells `S1` to `T3`; null where the table has no cell: too shallow, shorter than 10 ms, beyond a minute. */
export function en50160Cell(residual: number, seconds: number): string | null {
  if (seconds < SHORTEST_SECONDS - ROUNDING) return null;
  if (residual < 0.9) return cellOf(DIP_ROWS, DIP_COLUMNS, residual, seconds);
  return residual > 1.1 ? cellOf(SWELL_ROWS, SWELL_COLUMNS, residual, seconds) : null;
}

function cellOf(
  rows: readonly (readonly [string, number])[],
  columns: readonly number[],
  residual: number,
  seconds: number,
): string | null {
  const [letter] = rows.find(([, atLeast]) => residual >= atLeast - ROUNDING)!;
  const column = columns.findIndex((upTo) => seconds <= upTo + ROUNDING);
  return column < 0 ? null : `${letter}${column + 1}`;
}
