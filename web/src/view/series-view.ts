import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { SignalName } from '../../../shared/telemetry/signals.ts';
import type { SamplesFrame } from '../../../shared/wire/frames.ts';
import type { AnalogSeries, ContactSeries, SeriesAnswer } from '../../../shared/wire/series.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';

/** Series as the chart draws them: columns of instants and values. */
export interface Stretch {
  readonly from: Instant;
  readonly to: Instant;
}
interface Lane {
  readonly device: string;
  readonly signal: SignalName;
  readonly name: string;
  readonly unknown: readonly Stretch[];
  readonly t: readonly Instant[];
}
export interface ContactLane extends Lane {
  readonly kind: 'contact';
  /** the change to `v[i]` happened in (earliest[i], t[i]] */
  readonly earliest: readonly Instant[];
  /** 1 asserted, 0 not */
  readonly v: readonly number[];
  /** many changes, too close to be drawn one by one */
  readonly crowded: readonly Stretch[];
  readonly knownThrough: Instant | null;
}
export interface AnalogLane extends Lane {
  readonly kind: 'analog';
  readonly measure: string;
  readonly min: readonly number[];
  readonly max: readonly number[];
  readonly mean: readonly number[];
  /** the value that each entry ends with: what is held until the next */
  readonly last: readonly number[];
  /** a longer stretch without a sample breaks the line; in microseconds */
  readonly breakAfter: number;
}
export type SeriesLane = ContactLane | AnalogLane;

const laneKey = (lane: { device: string; signal: string }): string => `${lane.device}/${lane.signal}`;

export const readSeries = (answer: SeriesAnswer): SeriesLane[] => answer.series.map(readLane);

function readLane(series: AnalogSeries | ContactSeries): SeriesLane {
  const lane = {
    device: series.device,
    signal: series.signal,
    name: series.name,
    unknown: series.unknown.map(readStretch),
    t: series.t.map(readInstant),
  };
  if (series.kind === 'analog')
    return {
      ...lane,
      kind: 'analog',
      measure: series.measure,
      min: series.min,
      max: series.max,
      mean: series.mean,
      last: series.last,
      breakAfter: series.breakAfter * SECOND,
    };
  return {
    ...lane,
    kind: 'contact',
    earliest: series.earliest.map(readInstant),
    v: series.v,
    crowded: series.crowded.map(readStretch),
    knownThrough: series.knownThrough === null ? null : readInstant(series.knownThrough),
  };
}

const readStretch = (stretch: { from: string; to: string }): Stretch => ({
  from: readInstant(stretch.from),
  to: readInstant(stretch.to),
});

/** New samples at the live edge: an analog line grows, a contact steps where its value differs. Older ones are left out. */
export function withSamples(lane: SeriesLane, t: readonly Instant[], v: readonly number[]): SeriesLane {
  const last = lane.t.at(-1) ?? -Infinity;
  const fresh = t.flatMap((at, i) => (at > last ? [{ at, value: v[i]! }] : [])).sort((a, b) => a.at - b.at);
  if (lane.kind === 'analog') {
    if (fresh.length === 0) return lane;
    const values = fresh.map(({ value }) => value);
    return {
      ...lane,
      t: [...lane.t, ...fresh.map(({ at }) => at)],
      min: [...lane.min, ...values],
      max: [...lane.max, ...values],
      mean: [...lane.mean, ...values],
      last: [...lane.last, ...values],
    };
  }
  return contactWith(lane, fresh);
}

function contactWith(lane: ContactLane, fresh: readonly { at: Instant; value: number }[]): ContactLane {
  const [times, earliest, values] = [[...lane.t], [...lane.earliest], [...lane.v]];
  let known = lane.knownThrough;
  for (const { at, value } of fresh) {
    if (value !== values.at(-1)) {
      times.push(at);
      earliest.push(known === null ? at : Math.min(known, at));
      values.push(value);
    }
    known = Math.max(known ?? at, at);
  }
  return { ...lane, t: times, earliest, v: values, knownThrough: known };
}

/** The lanes of a chart by point. */
export const byPoint = (lanes: readonly SeriesLane[]): ReadonlyMap<string, SeriesLane> =>
  new Map(lanes.map((lane) => [laneKey(lane), lane]));

/** Lanes with a frame's samples taken in; the very same map where none of them is drawn. */
export function lanesWithSamples(
  lanes: ReadonlyMap<string, SeriesLane>,
  points: SamplesFrame['points'],
): ReadonlyMap<string, SeriesLane> {
  const drawn = points.filter((point) => lanes.has(laneKey(point)));
  if (drawn.length === 0) return lanes;
  const grown = new Map(lanes);
  for (const point of drawn) {
    const lane = grown.get(laneKey(point))!;
    grown.set(laneKey(point), withSamples(lane, point.t.map(readInstant), point.v));
  }
  return grown;
}

/** What stood at an instant: a contact's state, an analog's nearest drawn value or the one it holds; null where nothing is known. */
export function valueAt(lane: SeriesLane, at: Instant, held = false): number | null {
  if (lane.unknown.some((stretch) => stretch.from <= at && at < stretch.to)) return null;
  const index = lastAtOrBefore(lane.t, at);
  if (lane.kind === 'contact') return index < 0 ? null : lane.v[index]!;
  const after = !held && index + 1 < lane.t.length && nearer(lane.t, index, at) ? index + 1 : index;
  const nearest = after < 0 ? null : lane.t[after]!;
  return nearest === null || Math.abs(nearest - at) > lane.breakAfter
    ? null
    : (held ? lane.last : lane.mean)[after]!;
}

const nearer = (t: readonly Instant[], index: number, at: Instant): boolean =>
  index < 0 || t[index + 1]! - at < at - t[index]!;

export function lastAtOrBefore(t: readonly Instant[], at: Instant): number {
  let low = 0;
  let high = t.length;
  while (low < high) {
    const middle = (low + high) >> 1;
    if (t[middle]! <= at) low = middle + 1;
    else high = middle;
  }
  return low - 1;
}
