import type { Bounds } from '../base/span.ts';
import { modesOf, projected, type Projected, type Rates } from './modes.ts';
import { fastestRise, lengthOf, type OffPeriod } from './off-period.ts';

/**
 * How a space warms, fitted by least squares to its own off periods (handbook 6): one mass, or two where they fit better by
 * more than the extra freedom would by itself (Schwarz's criterion). Everything linear is solved; the rates are walked over
 * on a grid. The range is the profile of that walk: every slow rate at which the squared residuals are no worse than the
 * least by what noise may do (99 %) is a warming that fits the record as well. Short periods tell only how fast the air
 * rises, not where it would settle; then the profile reaches from a straight line to an early levelling off, and says so.
 */
export interface WarmUpFit {
  readonly masses: 1 | 2;
  readonly periods: number;
  /** seconds of the longest period */
  readonly longest: number;
  /** residuals, K */
  readonly spread: number;
  /** the fastest rise of any period, K/s; 0: none rose */
  readonly fastest: number;
  /** of least squared residuals */
  readonly best: Warming;
  /** all that fit, of one mass and of two, `best` among them */
  readonly fitting: readonly Warming[];
}

export interface Warming extends Rates {
  /** K above outdoors at which it settles, Q/UA; its own error, K, one standard deviation */
  readonly above: number;
  readonly aboveError: number;
  /** `above` as the periods by themselves have it: heat inside isn't the same all day; their 5 and 95 % */
  readonly ownAbove: Bounds;
  /** β of the periods, their median, K: how far the air stood below its mass as they began */
  readonly kick: number;
}

/** fewer are too thin to fit */
const LEAST_PERIODS = 3;
/** a thermometer's own noise: residuals aren't believed to be less, K [our choice] */
const LEAST_SPREAD = 0.02;
/** heat set free inside is never less than none; outdoor temperature is measured where it is measured, K [our choice] */
const LEAST_ABOVE = -5;
/** two masses must beat one by this much of Schwarz's criterion ("strong", Kass and Raftery 1995) */
const STRONG = 6;
/** 99 % of χ² with one degree of freedom [std tables] */
const FITS = 6.63;

const SLOW = grid(600, 720_000, 28);
const FAST = grid(60, 2400, 8);

function grid(from: number, to: number, count: number): number[] {
  return Array.from({ length: count }, (_, i) => Math.round(from * (to / from) ** (i / (count - 1))));
}

export function fitWarmUp(periods: readonly OffPeriod[]): WarmUpFit | null {
  if (periods.length < LEAST_PERIODS) return null;
  const knots = periods.reduce((sum, period) => sum + period.knots.length, 0);
  const one = walk(periods, [null], knots - periods.length - 2);
  if (!one) return null;
  const two = walk(periods, FAST, knots - 2 * periods.length - 3);
  const schwarz = ({ least, freedom }: Walk): number =>
    knots * Math.log(Math.max(least.squares / knots, LEAST_SPREAD ** 2)) +
    (knots - freedom) * Math.log(knots);
  const better = two !== null && schwarz(two) < schwarz(one) - STRONG;
  const wide = two ?? one;
  const worst = Math.min(wide.least.squares, one.least.squares) + FITS * wide.spread ** 2;
  const chosen = better ? two.least : one.least;
  const fits = (cell: Cell): boolean => cell.squares <= worst || cell === chosen;
  // one mass is optimistic: where a second can't be told, it can't be excluded either
  const cells = [one, two].flatMap((found) => (found ? aroundFitting(found.cells, fits) : []));
  const warmings = cells.map((cell) => warmingOf(periods, cell, wide.spread));
  return {
    masses: better ? 2 : 1,
    periods: periods.length,
    longest: Math.max(...periods.map(lengthOf)),
    spread: wide.spread,
    fastest: Math.max(0, ...periods.map((period) => fastestRise(period) ?? 0)),
    best: warmings[cells.indexOf(chosen)]!,
    fitting: warmings,
  };
}

/** The cells that fit, and those beside them: the truth may lie between two of the grid. */
const aroundFitting = (cells: readonly Cell[], fits: (cell: Cell) => boolean): Cell[] =>
  cells.filter((_, i) =>
    [cells[i - 1], cells[i], cells[i + 1]].some((cell) => cell !== undefined && fits(cell)),
  );

interface Cell extends Rates {
  readonly parts: readonly Projected[];
  readonly squares: number;
  readonly above: number;
}

interface Walk {
  /** the best fast rate for each slow one */
  readonly cells: readonly Cell[];
  readonly least: Cell;
  readonly freedom: number;
  readonly spread: number;
}

function walk(
  periods: readonly OffPeriod[],
  fasts: readonly (number | null)[],
  freedom: number,
): Walk | null {
  if (freedom < 1) return null;
  const cells = SLOW.flatMap((slow) => {
    const row = fasts
      .filter((fast) => fast === null || fast <= slow / 3)
      .map((fast) => cellOf(periods, { slow, fast }));
    return row.length === 0 ? [] : [leastOf([...row, ...between(periods, row)])];
  }).filter(({ squares, above }) => Number.isFinite(squares) && above >= LEAST_ABOVE);
  if (cells.length === 0) return null;
  const least = leastOf(cells);
  const spread = Math.max(LEAST_SPREAD, Math.sqrt(least.squares / freedom));
  return { cells, least, freedom, spread };
}

/** At the lowest point of the parabola through the least of a row and its neighbours, in the logarithm of the fast rate. */
function between(periods: readonly OffPeriod[], row: readonly Cell[]): Cell[] {
  const at = row.indexOf(leastOf(row));
  const [before, here, after] = [row[at - 1], row[at]!, row[at + 1]];
  if (!before || !after || here.fast === null) return [];
  const bend = before.squares - 2 * here.squares + after.squares;
  if (!Number.isFinite(bend) || bend <= 0) return [];
  const step = Math.log(after.fast! / here.fast);
  const fast = here.fast * Math.exp((step * (before.squares - after.squares)) / (2 * bend));
  return [cellOf(periods, { slow: here.slow, fast })];
}

const leastOf = (cells: readonly Cell[]): Cell => cells.reduce((a, b) => (b.squares < a.squares ? b : a));

function cellOf(periods: readonly OffPeriod[], rates: Rates): Cell {
  const parts = periods.map((period) => projected(period, rates));
  let [u, v, w] = [0, 0, 0];
  for (const part of parts) {
    u += part.u;
    v += part.v;
    w += part.w;
  }
  return { ...rates, parts, above: v / u, squares: u > 1e-12 ? Math.max(0, w - (v * v) / u) : Infinity };
}

function warmingOf(periods: readonly OffPeriod[], cell: Cell, spread: number): Warming {
  const { slow, fast, parts, above } = cell;
  const u = parts.reduce((sum, part) => sum + part.u, 0);
  const each = parts
    .filter((part) => part.u > 1e-12)
    .map((part) => ({ value: part.v / part.u, weight: part.u }));
  const kicks =
    fast === null ? [0] : periods.map((period) => modesOf(period, cell, above).beta).sort((a, b) => a - b);
  return {
    slow,
    fast,
    above,
    aboveError: spread / Math.sqrt(u),
    ownAbove: [weightedRank(each, 0.05), weightedRank(each, 0.95)],
    kick: kicks[Math.floor(kicks.length / 2)]!,
  };
}

/** The telling periods count for more. */
function weightedRank(each: readonly { value: number; weight: number }[], share: number): number {
  const sorted = [...each].sort((a, b) => a.value - b.value);
  const total = sorted.reduce((sum, { weight }) => sum + weight, 0);
  let sum = 0;
  for (const { value, weight } of sorted) {
    sum += weight;
    if (sum >= share * total) return value;
  }
  return sorted.at(-1)!.value;
}

/** The slow time constant, s, and `above` with its own error, K: [low, high]. */
export function rangesOf({ fitting }: WarmUpFit): { readonly slow: Bounds; readonly above: Bounds } {
  const slow = fitting.map((one) => one.slow);
  return {
    slow: [Math.min(...slow), Math.max(...slow)],
    above: [
      Math.min(...fitting.map((one) => one.above - 2 * one.aboveError)),
      Math.max(...fitting.map((one) => one.above + 2 * one.aboveError)),
    ],
  };
}
