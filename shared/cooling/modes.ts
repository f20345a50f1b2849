import type { Knot, OffPeriod } from './off-period.ts';

/**
 * A space without cooling, as its air shows it (handbook 6): T(t) = G(t) + above − α·e^(−t/slow) − β·e^(−t/fast), where
 * `above` is Q/UA, by how much it settles above outdoors, and G the outdoor temperature as the slow mode follows it. One
 * mass has the slow mode alone; two masses, air and what stands behind it, both. α and β are each period's own: they tell
 * where air and mass stood as it began.
 */
export interface Rates {
  /** seconds */
  readonly slow: number;
  /** seconds; null: one mass */
  readonly fast: number | null;
}

/**
 * One period under given rates, α and β taken out by least squares: what is left for `above` is the parabola
 * w − 2·above·v + above²·u of squared residuals, K².
 */
export interface Projected {
  readonly u: number;
  readonly v: number;
  readonly w: number;
}

export function projected({ knots }: OffPeriod, rates: Rates): Projected {
  const { middle, ss, s1, sy, ff, fs, f1, fy, n, y1, yy } = sums(knots, rates);
  let [u, v, w] = [n - (s1 * s1) / ss, y1 - (s1 * sy) / ss, yy - (sy * sy) / ss];
  const left = ff - (fs * fs) / ss;
  if (rates.fast !== null && left > 1e-9 * ff) {
    const [one, inside] = [f1 - (fs * s1) / ss, fy - (fs * sy) / ss];
    [u, v, w] = [u - (one * one) / left, v - (one * inside) / left, w - (inside * inside) / left];
  }
  u = Math.max(0, u);
  return { u, v: v + middle * u, w: Math.max(0, w) + 2 * middle * v + middle * middle * u };
}

/** The products of the columns: slow mode, fast mode, ones, and the air less what follows outdoors, about its first. */
function sums(knots: OffPeriod['knots'], { slow, fast }: Rates) {
  let [ss, s1, sy, ff, fs, f1, fy, y1, yy] = [0, 0, 0, 0, 0, 0, 0, 0, 0];
  let follows = 0;
  let middle = 0;
  for (let i = 0; i < knots.length; i++) {
    const knot = knots[i]!;
    const [s, inside, outdoors] = knot;
    follows = i === 0 ? outdoors : followed(follows, knots[i - 1]!, knot, slow);
    if (i === 0) middle = inside - follows;
    const y = inside - follows - middle;
    const a = Math.exp(-s / slow);
    const b = fast === null ? 0 : Math.exp(-s / fast);
    ss += a * a;
    s1 += a;
    sy += a * y;
    ff += b * b;
    fs += b * a;
    f1 += b;
    fy += b * y;
    y1 += y;
    yy += y * y;
  }
  return { middle, ss, s1, sy, ff, fs, f1, fy, n: knots.length, y1, yy };
}

/** Where the slow mode's view of outdoors has come to by this knot. */
const followed = (before: number, from: Knot, to: Knot, slow: number): number =>
  before + (1 - Math.exp((from[0] - to[0]) / slow)) * ((from[2] + to[2]) / 2 - before);

/** α and β of a period under given rates and `above`. */
export function modesOf({ knots }: OffPeriod, rates: Rates, above: number): { alpha: number; beta: number } {
  const { middle, ss, s1, sy, ff, fs, f1, fy } = sums(knots, rates);
  // what is left of the model at each knot: above − middle, less the air about its first
  const [sl, fl] = [(above - middle) * s1 - sy, (above - middle) * f1 - fy];
  const det = ss * ff - fs * fs;
  if (rates.fast === null || det <= 1e-9 * ss * ff) return { alpha: sl / ss, beta: 0 };
  return { alpha: (sl * ff - fl * fs) / det, beta: (fl * ss - sl * fs) / det };
}

/** The outdoor temperature through the slow mode at the period's last knot; it begins where it is. */
export function followedOutdoors(knots: OffPeriod['knots'], slow: number): number {
  let follows = knots[0]![2];
  for (let i = 1; i < knots.length; i++) follows = followed(follows, knots[i - 1]!, knots[i]!, slow);
  return follows;
}

/** Seconds from now until the air reaches `limit`; null: never. `alpha` and `beta` as they stand now, K. */
export function secondsUntil(
  limit: number,
  { settles, alpha, beta }: { settles: number; alpha: number; beta: number },
  { slow, fast }: Rates,
): number | null {
  const wanted = settles - limit;
  const below = (t: number): number =>
    alpha * Math.exp(-t / slow) + (fast === null ? 0 : beta * Math.exp(-t / fast));
  if (below(0) <= wanted) return 0;
  if (wanted <= 0) return null;
  let high = slow;
  for (let i = 0; below(high) > wanted; i++) {
    if (i > 60) return null;
    high *= 2;
  }
  let low = 0;
  for (let i = 0; i < 32; i++) {
    const middle = (low + high) / 2;
    if (below(middle) > wanted) low = middle;
    else high = middle;
  }
  return high;
}
