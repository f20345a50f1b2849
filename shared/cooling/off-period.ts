import { inSeconds, type Instant } from '../base/instant.ts';

/**
 * A stretch in which no unit of a space ran, as a warm-up is fitted to it: not its samples but means of neighbours, at most
 * 24 of them, so that what is remembered stays small however long it lasts. Plain JSON.
 */
export interface OffPeriod {
  readonly begin: Instant;
  readonly knots: readonly Knot[];
}

/** The mean of some samples: seconds after the begin, °C inside, °C outdoors; how many, and the last one's seconds. */
export interface Knot {
  readonly s: number;
  readonly inside: number;
  readonly outdoors: number;
  readonly of: number;
  readonly until: number;
}

const MOST_KNOTS = 24;

export function withSample(period: OffPeriod, t: Instant, inside: number, outdoors: number): OffPeriod {
  const s = inSeconds(t - period.begin);
  const knots = [...period.knots, { s, inside, outdoors, of: 1, until: s }];
  return { ...period, knots: knots.length > MOST_KNOTS ? merged(knots) : knots };
}

/** Two of the neighbours that lie closest together become one. */
function merged(knots: readonly Knot[]): Knot[] {
  let at = 0;
  let closest = Infinity;
  for (let i = 0; i + 1 < knots.length; i++) {
    const length = knots[i + 1]!.until - (knots[i - 1]?.until ?? 0);
    if (length < closest) [at, closest] = [i, length];
  }
  const [a, b] = [knots[at]!, knots[at + 1]!];
  const of = a.of + b.of;
  const mean = (pick: (knot: Knot) => number): number =>
    Math.round(((pick(a) * a.of + pick(b) * b.of) / of) * 1e4) / 1e4;
  const one = {
    s: mean(({ s }) => s),
    inside: mean(({ inside }) => inside),
    outdoors: mean(({ outdoors }) => outdoors),
    of,
    until: b.until,
  };
  return [...knots.slice(0, at), one, ...knots.slice(at + 2)];
}

/** What of it lies at or before an instant: a unit may have started after it. */
export const endedBy = (period: OffPeriod, at: Instant): OffPeriod => {
  const s = inSeconds(at - period.begin);
  return { ...period, knots: period.knots.filter(({ until }) => until <= s) };
};

export const lengthOf = ({ knots }: OffPeriod): number => knots.at(-1)?.until ?? 0;

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

/** The fastest rise over any stretch of at least five minutes, K/s; null where there is no such stretch. */
export function fastestRise({ knots }: OffPeriod): number | null {
  let fastest: number | null = null;
  for (let i = 0; i < knots.length; i++)
    for (let j = i + 1; j < knots.length; j++) {
      const length = knots[j]!.s - knots[i]!.s;
      if (length < RISE_SECONDS) continue;
      const rise = (knots[j]!.inside - knots[i]!.inside) / length;
      if (fastest === null || rise > fastest) fastest = rise;
      break;
    }
  return fastest;
}

const RISE_SECONDS = 300;
