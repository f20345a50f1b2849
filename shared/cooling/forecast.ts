import type { Bounds } from '../base/span.ts';
import { followedOutdoors, modesOf, projected, secondsUntil } from './modes.ts';
import { fastestRise, lengthOf, type OffPeriod } from './off-period.ts';
import type { WarmUpFit, Warming } from './warm-up-fit.ts';

/**
 * When does a space reach its limit (handbook 6, time to the limit)? From the fit of its own off periods, carried on from
 * where its air stands now. The range is taken over every warming that fits the record (warm-up-fit.ts) and over the heat
 * inside, which isn't the same all day: as the periods had it, or, once this one has lasted, as it has it. While there is too
 * little to fit, the linear bound: no sooner than at the fastest rise seen.
 */
export interface Forecast {
  /** seconds from now; 0: it is there */
  readonly soonest: number;
  /** null: can't be told, or perhaps never */
  readonly latest: number | null;
  readonly by: 'two-masses' | 'one-mass' | 'linear-bound';
}

export interface Standpoint {
  readonly fit: WarmUpFit | null;
  /** °C */
  readonly limit: number;
  readonly inside: number;
  readonly outdoors: number | null;
  /** the off period under way; null: some unit runs */
  readonly period: OffPeriod | null;
  /** what is still cooled; null: nothing */
  readonly rest: Rest | null;
  /** the fastest rise of late, K/s, where no off period tells one */
  readonly rise: number | null;
}

/** The units that are left, as a share of the load that all had carried, [least, most], and how it stood then, °C. */
export interface Rest {
  readonly share: Bounds;
  readonly inside: number;
  readonly outdoors: number;
}

/** null: nothing that was seen has it reach the limit. */
export function forecast(at: Standpoint): Forecast | null {
  if (at.inside >= at.limit) return { soonest: 0, latest: 0, by: 'linear-bound' };
  return at.fit === null || at.outdoors === null ? linear(at) : fitted(at, at.fit, at.outdoors);
}

function linear({ period, inside, limit, rise }: Standpoint): Forecast | null {
  const fastest = Math.max((period && fastestRise(period)) ?? 0, rise ?? 0);
  if (fastest <= 0) return null;
  return { soonest: (limit - inside) / fastest, latest: null, by: 'linear-bound' };
}

/** an off period tells its own heat once it has lasted so long, s, and has so many knots [our choice] */
const OWN_SECONDS = 900;
const OWN_KNOTS = 8;
/** a forecast that reaches further than so many times the longest period seen has an open end [our choice] */
const REACH = 4;
/** by how much it may become warmer or colder outdoors than now, K [our choice] */
const WEATHER = 2;
/** by how much the heat inside may differ from all that the periods had, share [our choice] */
const HEAT = 0.1;
/** standard deviations: 99 % of a normal distribution */
const SURE = 2.58;

function fitted(at: Standpoint, fit: WarmUpFit, outdoors: number): Forecast | null {
  const found = fit.fitting.map((warming) => {
    const [cool, hot] = heats(at, fit, warming);
    return {
      early: reach(at, { ...warming, above: hot - carried(at.rest, warming, 0) + WEATHER }, outdoors),
      late: reach(at, { ...warming, above: cool - carried(at.rest, warming, 1) - WEATHER }, outdoors),
    };
  });
  const early = found.flatMap((one) => one.early ?? []);
  if (early.length === 0) return null;
  const late = Math.max(...found.map((one) => one.late ?? Infinity));
  const longest = Math.max(fit.longest, at.period ? lengthOf(at.period) : 0);
  return {
    soonest: Math.max(Math.min(...early), bound(at, fit)),
    latest: late <= REACH * longest ? late : null,
    by: fit.masses === 2 ? 'two-masses' : 'one-mass',
  };
}

/**
 * By how much the units that are left keep it below where it would settle, K: all of them together had kept it at `inside`,
 * so they took out what drove it; the rest takes its share of that.
 */
const carried = (rest: Rest | null, { above }: Warming, end: 0 | 1): number =>
  rest === null ? 0 : rest.share[end] * Math.max(0, rest.outdoors + above - rest.inside);

/** No sooner than at the fastest rise seen: the air never warms faster later, for what drives it shrinks as it warms. */
function bound({ period, inside, limit }: Standpoint, fit: WarmUpFit): number {
  const fastest = (1 + HEAT) * Math.max(fit.fastest, (period && fastestRise(period)) ?? 0);
  return fastest > 0 ? (limit - inside) / fastest : 0;
}

const isTelling = (period: OffPeriod | null): period is OffPeriod =>
  period !== null && period.knots.length >= OWN_KNOTS && lengthOf(period) >= OWN_SECONDS;

/** `above`, [least, most]: this period's own once it tells, else as the periods had it. */
function heats({ period }: Standpoint, fit: WarmUpFit, warming: Warming): readonly [number, number] {
  const [low, high] = warming.ownAbove;
  if (isTelling(period)) {
    const { u, v } = projected(period, warming);
    const error = (SURE * fit.spread) / Math.sqrt(u);
    if (u > 0 && error < Math.max(high - low, 0.5 * Math.abs(warming.above)))
      return [v / u - error, v / u + error];
  }
  const error = SURE * warming.aboveError + HEAT * Math.abs(warming.above);
  return [low - error, high + error];
}

function reach(at: Standpoint, warming: Warming, outdoors: number): number | null {
  const { period, inside, limit } = at;
  const elapsed = period ? lengthOf(period) : 0;
  if (isTelling(period)) {
    const { alpha, beta } = modesOf(period, warming, warming.above);
    const settles = followedOutdoors(period.knots, warming.slow) + warming.above;
    const fast = warming.fast === null ? 0 : beta * Math.exp(-elapsed / warming.fast);
    return secondsUntil(
      limit,
      { settles, alpha: alpha * Math.exp(-elapsed / warming.slow), beta: fast },
      warming,
    );
  }
  const settles = outdoors + warming.above;
  const below = settles - inside;
  const kick = warming.fast === null || !period ? 0 : warming.kick * Math.exp(-elapsed / warming.fast);
  const beta = Math.max(0, Math.min(kick, below));
  return secondsUntil(limit, { settles, alpha: below - beta, beta }, warming);
}
