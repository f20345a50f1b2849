/**
 * How likely it is that all starts come a spacing apart, whatever their order. Every wait is taken to be off independently
 * of the others: a timer evenly within its share, a dial evenly within its error besides, a measured wait evenly within its
 * bracket [our choice: nothing is known of how they are really spread, and an even spread is harsher than a peaked one].
 *
 * Worked out on a grid of fiftieths of a second by adding one start after the other, over every set of units that may be
 * the ones that have started; where there are too many such sets, in the planned order alone, which is at most too low.
 */
export interface Spread {
  /** middle of the wait, s */
  readonly middle: number;
  /** half the width of the even spread of its timer (or of its bracket), and of its dial, s */
  readonly timer: number;
  readonly dial: number;
}

export interface Likelihood {
  readonly value: number;
  /** it may be more: other orders weren't looked at */
  readonly isAtLeast: boolean;
}

const STEP = 0.02;
const MOST_SETS = 512;
/** a grid of more cells is made coarser */
const MOST_CELLS = 10_000;

export function likelihoodApart(spreads: readonly Spread[], spacing: number): Likelihood {
  if (spreads.length < 2) return { value: 1, isAtLeast: false };
  const ends = spreads.map(
    ({ middle, timer, dial }) => [middle - timer - dial, middle + timer + dial] as const,
  );
  const from = Math.min(...ends.map(([low]) => low));
  const width = Math.max(...ends.map(([, high]) => high)) - from;
  const step = Math.max(STEP, width / MOST_CELLS);
  const grid: Grid = { from, step, cells: Math.ceil(width / step) + 2, apart: Math.round(spacing / step) };
  const masses = spreads.map((spread) => massOf(spread, grid));
  const every = ways(
    spreads.map((_, i) => i),
    masses,
    grid,
    false,
  );
  if (every !== null) return { value: every, isAtLeast: false };
  const order = spreads.map((_, i) => i).sort((a, b) => spreads[a]!.middle - spreads[b]!.middle);
  return { value: ways(order, masses, grid, true)!, isAtLeast: true };
}

interface Grid {
  readonly from: number;
  readonly step: number;
  readonly cells: number;
  /** the spacing, in cells */
  readonly apart: number;
}

interface Mass {
  readonly first: number;
  readonly values: readonly number[];
}

/** How the sum of two even spreads lies on the grid: a trapezoid, a rectangle or, without any width, one cell. */
function massOf({ middle, timer, dial }: Spread, { from, step }: Grid): Mass {
  const [wide, narrow] = [Math.max(timer, dial), Math.min(timer, dial)];
  const below = (x: number): number => trapezoidBelow(x - middle, wide, narrow);
  const first = Math.floor((middle - wide - narrow - from) / step);
  const last = Math.floor((middle + wide + narrow - from) / step);
  const values: number[] = [];
  for (let cell = first; cell <= last; cell++)
    values.push(below(from + (cell + 1) * step) - below(from + cell * step));
  if (wide + narrow === 0) values[0] = 1;
  return { first, values };
}

/** P(U + V ≤ x) for U even in ±wide, V even in ±narrow. */
function trapezoidBelow(x: number, wide: number, narrow: number): number {
  if (wide === 0) return x >= 0 ? 1 : 0;
  if (narrow === 0) return Math.min(1, Math.max(0, (x + wide) / (2 * wide)));
  const ramp = (y: number): number => (y <= 0 ? 0 : (y * y) / 2);
  const area =
    ramp(x + wide + narrow) - ramp(x + wide - narrow) - ramp(x - wide + narrow) + ramp(x - wide - narrow);
  return Math.min(1, Math.max(0, area / (4 * wide * narrow)));
}

/** Probability that all start apart; null: more sets than are looked at. */
function ways(
  order: readonly number[],
  masses: readonly Mass[],
  grid: Grid,
  isInOrder: boolean,
): number | null {
  let sets = new Map<string, { readonly placed: readonly number[]; readonly below: Float64Array }>();
  const ones = new Float64Array(grid.cells).fill(1);
  sets.set('', { placed: [], below: ones });
  let looked = 0;
  for (let n = 0; n < order.length; n++) {
    const next = new Map<string, { placed: readonly number[]; below: Float64Array }>();
    for (const { placed, below } of sets.values())
      for (const unit of isInOrder ? [order[n]!] : order) {
        if (placed.includes(unit)) continue;
        const added = after(below, masses[unit]!, grid, n === 0);
        if (added === null) continue;
        if (!isInOrder && ++looked > MOST_SETS) return null;
        const now = [...placed, unit].sort((a, b) => a - b);
        const key = now.join();
        const found = next.get(key);
        if (found) found.below.forEach((value, i) => (found.below[i] = value + added[i]!));
        else next.set(key, { placed: now, below: added });
      }
    sets = next;
    if (sets.size === 0) return 0;
  }
  return [...sets.values()][0]!.below[grid.cells - 1]!;
}

/** P(all placed apart, this one a spacing after the last of them, and at or before each cell); null: it can't come after. */
function after(
  below: Float64Array,
  { first, values }: Mass,
  grid: Grid,
  isFirst: boolean,
): Float64Array | null {
  const result = new Float64Array(grid.cells);
  let sum = 0;
  for (const [i, mass] of values.entries()) {
    sum += mass * (isFirst ? 1 : chanceBefore(below, first + i - grid.apart));
    result[first + i] = sum;
  }
  if (sum <= 1e-12) return null;
  return result.fill(sum, first + values.length);
}

/** Within a cell both lie anywhere: the mean of the chance at its two ends. */
function chanceBefore(below: Float64Array, cell: number): number {
  if (cell < 0) return 0;
  return (below[cell]! + (cell > 0 ? below[cell - 1]! : 0)) / 2;
}

/** n random starts in a window of W seconds, none closer than s: (1 − (n − 1)s/W)ⁿ (handbook 5.4). */
export const likelihoodAtRandom = (n: number, spacing: number, window: number): number =>
  Math.max(0, 1 - ((n - 1) * spacing) / window) ** n;
