import { inSeconds, type Instant } from '../base/instant.ts';
import { elapsed, exactly, type Bounds, type Span } from '../base/span.ts';

/**
 * How long a unit ran and rested, and how often it started, from its run edges alone (handbook 6, cycling). An edge is an
 * interval, so every time is [least, most] seconds; never an average of the two. A stretch in which nobody knew whether it
 * ran is left out and its length said; a run or a rest that such a stretch or the window's ends cut is left out of the
 * lengths, and counted.
 */
export interface RunEdge {
  readonly span: Span;
  /** `unknown`: from here on nothing is known; `on` or `off` after it: was so when heard again, no start and no stop */
  readonly to: 'on' | 'off' | 'unknown';
}

export interface RunTimes {
  readonly from: Instant;
  readonly to: Instant;
  /** seconds of the window in which it was known whether it ran, and in which it wasn't */
  readonly knownSeconds: number;
  readonly unknownSeconds: number;
  /** seconds on within the known time */
  readonly onSeconds: Bounds;
  /** starts within the window, each the edge's latest instant */
  readonly starts: readonly Instant[];
  /** whole runs and whole rests, seconds */
  readonly runs: readonly Bounds[];
  readonly rests: readonly Bounds[];
  /** runs and rests that the window's ends or a stretch of not knowing cut */
  readonly cut: number;
}

/** `edges` in the order of their latest instants; those before `from` tell how it stood there. */
export function runTimes(edges: readonly RunEdge[], from: Instant, to: Instant): RunTimes {
  const stretches = stretchesOf(edges, from, to);
  const known = stretches.filter(({ state }) => state !== 'unknown');
  const lengths = (state: 'on' | 'off'): Bounds[] =>
    known
      .filter((one) => one.state === state && one.whole)
      .map(({ begin, end }) => atLeastZero(elapsed(begin, end)));
  const on = known
    .filter(({ state }) => state === 'on')
    .map(({ begin, end }) => clipped(begin, end, from, to));
  const knownSeconds = sum(
    known.map(({ begin, end }) =>
      Math.max(0, inSeconds(Math.min(to, end.latest) - Math.min(to, begin.latest))),
    ),
  );
  return {
    from,
    to,
    knownSeconds,
    unknownSeconds: inSeconds(to - from) - knownSeconds,
    onSeconds: [sum(on.map(([low]) => low)), Math.min(knownSeconds, sum(on.map(([, high]) => high)))],
    starts: startsIn(edges, from, to),
    runs: lengths('on'),
    rests: lengths('off'),
    cut: known.filter(({ whole }) => !whole).length,
  };
}

interface Stretch {
  readonly state: RunEdge['to'];
  readonly begin: Span;
  readonly end: Span;
  /** its begin and its end were seen within the window */
  readonly whole: boolean;
}

function stretchesOf(edges: readonly RunEdge[], from: Instant, to: Instant): Stretch[] {
  const found: Stretch[] = [];
  let state: RunEdge['to'] = 'unknown';
  let begin = exactly(from);
  let begun = false;
  const close = (end: Span, seen: boolean): void => {
    if (end.latest > begin.earliest)
      found.push({ state, begin, end, whole: begun && seen && end.latest <= to });
  };
  for (const edge of edges) {
    if (edge.span.earliest >= to) break;
    if (edge.to === state) continue;
    const inside = edge.span.latest > from;
    const change = state !== 'unknown' && edge.to !== 'unknown';
    if (inside) close(edge.span, change);
    begin = inside ? edge.span : exactly(from);
    begun = inside && change && edge.span.earliest >= from;
    state = edge.to;
  }
  close(exactly(to), false);
  return found;
}

function startsIn(edges: readonly RunEdge[], from: Instant, to: Instant): Instant[] {
  const starts: Instant[] = [];
  let state: RunEdge['to'] = 'unknown';
  for (const { to: next, span } of edges) {
    if (span.latest > to) break;
    if (state === 'off' && next === 'on' && span.latest > from) starts.push(span.latest);
    state = next;
  }
  return starts;
}

/** Seconds on, within the window. */
function clipped(begin: Span, end: Span, from: Instant, to: Instant): Bounds {
  const within = (t: Instant): Instant => Math.min(to, Math.max(from, t));
  return [
    Math.max(0, inSeconds(within(end.earliest) - within(begin.latest))),
    inSeconds(within(end.latest) - within(begin.earliest)),
  ];
}

const atLeastZero = ([low, high]: Bounds): Bounds => [Math.max(0, low), high];
const sum = (values: readonly number[]): number => values.reduce((total, value) => total + value, 0);

/** Share of the known time in which it ran, [least, most]; null where nothing was known. */
export const runFraction = ({ onSeconds: [low, high], knownSeconds }: RunTimes): Bounds | null =>
  knownSeconds > 0 ? [low / knownSeconds, high / knownSeconds] : null;

/** Starts an hour of known time; null where less than a quarter of an hour was known. */
export const startRate = ({ starts, knownSeconds }: RunTimes): number | null =>
  knownSeconds >= 900 ? (starts.length * 3600) / knownSeconds : null;

/** The most starts in any 60 minutes. */
export function mostInAnHour(starts: readonly Instant[]): number {
  let most = 0;
  let first = 0;
  for (let i = 0; i < starts.length; i++) {
    while (inSeconds(starts[i]! - starts[first]!) >= 3600) first++;
    most = Math.max(most, i - first + 1);
  }
  return most;
}

export interface Distribution {
  readonly count: number;
  readonly least: Bounds;
  readonly lowerQuarter: Bounds;
  readonly median: Bounds;
  readonly upperQuarter: Bounds;
  readonly most: Bounds;
  readonly mean: Bounds;
}

/**
 * Lengths in order, [least, most] each: what is sorted by its least and by its most apart bounds every rank. Null where
 * there are none.
 */
export function distribution(lengths: readonly Bounds[]): Distribution | null {
  if (lengths.length === 0) return null;
  const lows = lengths.map(([low]) => low).sort((a, b) => a - b);
  const highs = lengths.map(([, high]) => high).sort((a, b) => a - b);
  const rank = (share: number): Bounds => [ranked(lows, share), ranked(highs, share)];
  return {
    count: lengths.length,
    least: rank(0),
    lowerQuarter: rank(0.25),
    median: rank(0.5),
    upperQuarter: rank(0.75),
    most: rank(1),
    mean: [sum(lows) / lows.length, sum(highs) / highs.length],
  };
}

/** Between two ranks in proportion. */
function ranked(sorted: readonly number[], share: number): number {
  const place = share * (sorted.length - 1);
  const below = Math.floor(place);
  const above = Math.ceil(place);
  return sorted[below]! + (place - below) * (sorted[above]! - sorted[below]!);
}
