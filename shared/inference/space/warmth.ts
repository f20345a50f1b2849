import { inSeconds, type Instant } from '../../base/instant.ts';
import {
  endedBy,
  isTelling,
  lengthOf,
  withPeriod,
  withSample,
  type OffPeriod,
} from '../../cooling/off-period.ts';
import { addDoubt, addKnown, quarterOf, QUARTER, type Load, type Quarter } from '../../cooling/load.ts';
import { fitWarmUp, type WarmUpFit } from '../../cooling/warm-up-fit.ts';
import type { UnitEdge } from '../edge.ts';
import { signalOfKey, type Item, type ReadingItem } from '../members/queue.ts';
import { wireOf } from '../members/wired.ts';
import type { LastSeen } from '../standing.ts';
import type { OpenForecast } from './forecast.ts';
import type { SpaceMoment } from './state.ts';
import type { Rising } from './temperature-rising.ts';

/**
 * What a space learns of how it warms and how its units carry it (handbook 6): the stretches in which none of its units ran,
 * as a few means each; the fit to them; how much each unit ran of late. All of it follows from rows in time order.
 */
export interface Warmth {
  outdoors: LastSeen | null;
  inside: (LastSeen & { readonly key: string }) | null;
  /** five-minute means of the last hour: seconds since 1970, °C, how many */
  recent: Recent[];
  quarters: Quarter[];
  /** runs are counted up to here */
  counted: Instant | null;
  /** the stretch under way in which no unit runs; `blind`: outdoors wasn't known in it */
  period: OffPeriod | null;
  blind: boolean;
  periods: readonly OffPeriod[];
  fit: WarmUpFit | null;
  fittedAt: Instant | null;
  /** the fit with the period under way among them, and how long that was then */
  current: { readonly fit: WarmUpFit | null; readonly length: number } | null;
  /** the load before the first unit that can't run now went */
  before: Load | null;
  forecast: OpenForecast | null;
  rising: Record<string, Rising>;
}

export type Recent = readonly [from: Instant, mean: number, count: number];

export const newWarmth = (): Warmth => ({
  outdoors: null,
  inside: null,
  recent: [],
  quarters: [],
  counted: null,
  period: null,
  blind: false,
  periods: [],
  fit: null,
  fittedAt: null,
  current: null,
  before: null,
  forecast: null,
  rising: {},
});

const RECENT = 300_000_000;
const RECENT_KEPT = 12;
/** the fit is made anew when a period is over and it is older than this, µs */
const FIT_AGE = 3_600_000_000;
/** in a period under way, whenever that has grown by this factor */
const GROWN = 1.2;

/** A temperature, inside or out. */
export function takeWarmth(moment: SpaceMoment, item: ReadingItem): void {
  const { warmth } = moment.state;
  const signal = signalOfKey(item.key);
  if (item.value === null) return;
  if (signal === 'outdoor-temperature') {
    warmth.outdoors = { t: item.t, value: item.value };
    const quarter = quarterOf(warmth.quarters, item.t);
    quarter.outdoors += item.value;
    quarter.outdoorsOf++;
  } else if (signal === 'space-temperature' && item.key === insideKey(moment))
    takeInside(warmth, item, item.value);
}

/** The point the space's temperature is read from: its own, else the site's. */
const insideKey = ({ place, context }: SpaceMoment): string | null => {
  const points = place.points.filter(({ signal }) => signal === 'space-temperature');
  const found = points.find(({ device }) => device === context.subject.device) ?? points[0];
  return found ? `${found.device}/${found.signal}` : null;
};

function takeInside(warmth: Warmth, { t, key }: ReadingItem, value: number): void {
  warmth.inside = { t, value, key };
  const quarter = quarterOf(warmth.quarters, t);
  quarter.inside += value;
  quarter.insides++;
  const from = Math.floor(t / RECENT) * RECENT;
  const last = warmth.recent.at(-1);
  if (last && last[0] === from)
    warmth.recent[warmth.recent.length - 1] = [
      from,
      (last[1] * last[2] + value) / (last[2] + 1),
      last[2] + 1,
    ];
  else warmth.recent = [...warmth.recent, [from, value, 1] as const].slice(-RECENT_KEPT);
  if (!warmth.period || t <= warmth.period.begin) return;
  const outdoors = outdoorsAt(warmth, t);
  if (outdoors === null) warmth.blind = true;
  warmth.period = withSample(warmth.period, t, value, outdoors ?? 0);
}

/** The space's own temperature isn't known from here on: what it said last holds no longer. */
export function loseWarmth({ state }: SpaceMoment, { key }: Item & { kind: 'lost' | 'back' }): void {
  const { warmth } = state;
  if (warmth.inside?.key === key) warmth.inside = { ...warmth.inside, value: null };
}

/** how long a temperature outdoors holds, µs [our choice]: the space doesn't wait for it, so its silence isn't told here */
const OUTDOORS_HOLDS = 3_600_000_000;

/** The temperature outdoors at an instant; null: none was seen within the hour. */
export const outdoorsAt = ({ outdoors }: Warmth, t: Instant): number | null =>
  outdoors !== null && t - outdoors.t <= OUTDOORS_HOLDS ? outdoors.value : null;

/** Before an instant's rows are applied: what each unit did until it. */
export function countRuns({ state, place, t }: SpaceMoment): void {
  const { warmth } = state;
  let at = Math.max(warmth.counted ?? t, t - 13 * QUARTER);
  while (at < t) {
    const until = Math.min(t, (Math.floor(at / QUARTER) + 1) * QUARTER);
    quarterOf(warmth.quarters, at);
    for (const { id } of place.units) {
      const on = state.units[id]?.run.on ?? null;
      if (on !== null) addKnown(warmth.quarters, id, at, until, on);
    }
    at = until;
  }
  warmth.counted = t;
}

/** A start may have been earlier than counted, a stop too. */
export function countDoubt({ state }: SpaceMoment, { kind, unit, span }: UnitEdge): void {
  if (kind !== 'start' && kind !== 'stop') return;
  const width = inSeconds(span.latest - span.earliest);
  addDoubt(state.warmth.quarters, unit, span.latest, width, kind === 'start' ? 'on' : 'off');
}

/** Once an instant's rows are applied: does a stretch without any unit running begin, go on, or end? */
export function followPeriod(moment: SpaceMoment): void {
  const { state, place, t } = moment;
  const { warmth } = state;
  const busy = place.units.filter((unit) => !wireOf(unit, 'run') || state.units[unit.id]?.run.on !== false);
  if (busy.length === 0 && place.units.length > 0) {
    if (warmth.period) return;
    warmth.period = { begin: t, knots: [] };
    warmth.blind = false;
    warmth.current = null;
    return;
  }
  if (!warmth.period) return;
  const ended = busy.map(({ id }) => {
    const run = state.units[id]?.run;
    return run?.since?.earliest ?? run?.unknown.at(-1)?.from ?? t;
  });
  const over = endedBy(warmth.period, Math.min(t, ...ended));
  const { blind } = warmth;
  warmth.period = null;
  warmth.blind = false;
  warmth.current = null;
  if (blind || !isTelling(over)) return;
  warmth.periods = withPeriod(warmth.periods, over);
  if (warmth.fittedAt !== null && t < warmth.fittedAt + FIT_AGE && warmth.fit) return;
  warmth.fit = fitWarmUp(warmth.periods);
  warmth.fittedAt = t;
}

/** The fit to go by now: with the period under way once that tells. */
export function fitNow(warmth: Warmth): WarmUpFit | null {
  const { period, blind, current } = warmth;
  if (!period || blind || !isTelling(period)) return warmth.fit;
  const length = lengthOf(period);
  if (current && length < GROWN * current.length) return current.fit;
  warmth.current = { fit: fitWarmUp([...warmth.periods, period]), length };
  return warmth.current.fit;
}

/** The fastest rise between the means of the last minutes, K/s; null: it didn't rise, or there are too few. */
export function recentRise({ recent }: Warmth, since: Instant): number | null {
  const seen = recent.filter(([from]) => from >= since);
  let fastest: number | null = null;
  for (let i = 2; i < seen.length; i++) {
    const rise = (seen[i]![1] - seen[i - 2]![1]) / inSeconds(seen[i]![0] - seen[i - 2]![0]);
    if (rise > 0 && (fastest === null || rise > fastest)) fastest = rise;
  }
  return fastest;
}

/** By how much it rose over the last hour, K/h, from means of five minutes; null: less than half an hour was seen. */
export function risePerHour({ recent }: Warmth): number | null {
  const [first, last] = [recent[0], recent.at(-1)];
  if (!first || !last || last[0] - first[0] < 6 * RECENT) return null;
  return ((last[1] - first[1]) * 3600) / inSeconds(last[0] - first[0]);
}
