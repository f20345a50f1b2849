import { inSeconds, type Instant } from '../base/instant.ts';

/**
 * A stretch in which no unit of a space ran, as a warm-up is fitted to it: not its samples but means of neighbours, at most
 * 24 of them, so that what is remembered stays small however long it lasts. Plain JSON.
 */
export interface OffPeriod {
  readonly begin: Instant;
  readonly knots: readonly Knot[];
}

/**
 * The mean of some samples: seconds after the begin, °C inside, °C outdoors; then how many, and the last one's seconds.
 * A tuple, because many are kept.
 */
export type Knot = readonly [s: number, inside: number, outdoors: number, of: number, until: number];

/** while it lasts, and once it is over and kept */
const MOST_KNOTS = 24;
const KEPT_KNOTS = 12;

export function withSample(period: OffPeriod, t: Instant, inside: number, outdoors: number): OffPeriod {
  const s = Math.round(inSeconds(t - period.begin) * 10) / 10;
  const knots: Knot[] = [...period.knots, [s, inside, outdoors, 1, s]];
  return { ...period, knots: thinned(knots, MOST_KNOTS) };
}

function thinned(knots: readonly Knot[], most: number): readonly Knot[] {
  let left = knots;
  while (left.length > most) left = merged(left);
  return left;
}

/** Two of the neighbours that lie closest together become one. */
function merged(knots: readonly Knot[]): Knot[] {
  let at = 0;
  let closest = Infinity;
  for (let i = 0; i + 1 < knots.length; i++) {
    const length = knots[i + 1]![4] - (knots[i - 1]?.[4] ?? 0);
    if (length < closest) [at, closest] = [i, length];
  }
  const [a, b] = [knots[at]!, knots[at + 1]!];
  const of = a[3] + b[3];
  const mean = (i: 0 | 1 | 2): number => Math.round(((a[i] * a[3] + b[i] * b[3]) / of) * 1e3) / 1e3;
  return [...knots.slice(0, at), [mean(0), mean(1), mean(2), of, b[4]], ...knots.slice(at + 2)];
}

/** A period that is over: what of it lies at or before an instant, for a unit may have started after that. */
export function endedBy({ begin, knots }: OffPeriod, at: Instant): OffPeriod {
  const s = inSeconds(at - begin);
  return {
    begin,
    knots: thinned(
      knots.filter(([, , , , until]) => until <= s),
      KEPT_KNOTS,
    ),
  };
}

export const lengthOf = ({ knots }: OffPeriod): number => knots.at(-1)?.[4] ?? 0;

/** Too short for its warm-up to be told from the noise of a thermometer [our choice]: seconds, knots. */
const LEAST_SECONDS = 240;
const LEAST_KNOTS = 4;

export const isTelling = (period: OffPeriod): boolean =>
  period.knots.length >= LEAST_KNOTS && lengthOf(period) >= LEAST_SECONDS;

/** How many are kept, of which so many are the newest and the others the longest; none is older than this, µs. */
const KEPT = 24;
const NEWEST = 16;
const OLDEST = 30 * 86_400e6;

export function withPeriod(kept: readonly OffPeriod[], period: OffPeriod): OffPeriod[] {
  const recent = [...kept, period].filter(({ begin }) => begin > period.begin - OLDEST);
  if (recent.length <= KEPT) return recent;
  const older = recent.slice(0, recent.length - NEWEST);
  const shortest = older.reduce((a, b) => (lengthOf(b) < lengthOf(a) ? b : a));
  return recent.filter((one) => one !== shortest);
}

/** The fastest rise over any stretch of at least three minutes, K/s; null where there is no such stretch. */
export function fastestRise({ knots }: OffPeriod): number | null {
  let fastest: number | null = null;
  for (let i = 0; i < knots.length; i++)
    for (let j = i + 1; j < knots.length; j++) {
      const length = knots[j]![0] - knots[i]![0];
      if (length < RISE_SECONDS) continue;
      const rise = (knots[j]![1] - knots[i]![1]) / length;
      if (fastest === null || rise > fastest) fastest = rise;
      break;
    }
  return fastest;
}

const RISE_SECONDS = 180;
