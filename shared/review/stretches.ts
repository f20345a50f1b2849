import { inSeconds, type Instant } from '../base/instant.ts';
import type { Bounds, Span } from '../base/span.ts';

/** From an uncertain instant to another; `to` null: it lasts. */
export interface Stretch {
  readonly from: Span;
  readonly to: Span | null;
}

type Pair = readonly [from: Instant, to: Instant];

/** Seconds that stretches cover together, least and most; one that lasts is counted through `until`. */
export function covered(stretches: readonly Stretch[], until: Instant): Bounds {
  return uncovered(stretches, [], until);
}

/**
 * Seconds that `stretches` cover and `others` don't, least and most: the least takes the narrowest of the ones and the
 * widest of the others.
 */
export function uncovered(stretches: readonly Stretch[], others: readonly Stretch[], until: Instant): Bounds {
  const least = total(without(united(sure(stretches, until)), united(possible(others, until))));
  const most = total(without(united(possible(stretches, until)), united(sure(others, until))));
  return [inSeconds(least), inSeconds(Math.max(least, most))];
}

const sure = (stretches: readonly Stretch[], until: Instant): Pair[] =>
  stretches.map(({ from, to }) => [from.latest, to?.earliest ?? until]);
const possible = (stretches: readonly Stretch[], until: Instant): Pair[] =>
  stretches.map(({ from, to }) => [from.earliest, to?.latest ?? until]);

const total = (pairs: readonly Pair[]): number => pairs.reduce((sum, [from, to]) => sum + to - from, 0);

function united(pairs: readonly Pair[]): Pair[] {
  const joined: [Instant, Instant][] = [];
  for (const [from, to] of [...pairs].sort((a, b) => a[0] - b[0])) {
    const last = joined.at(-1);
    if (to <= from) continue;
    if (last && from <= last[1]) last[1] = Math.max(last[1], to);
    else joined.push([from, to]);
  }
  return joined;
}

const without = (pairs: readonly Pair[], others: readonly Pair[]): Pair[] =>
  others.reduce<Pair[]>(
    (left, [from, to]) =>
      left.flatMap((pair): Pair[] => {
        const before: Pair = [pair[0], Math.min(pair[1], from)];
        const after: Pair = [Math.max(pair[0], to), pair[1]];
        return [before, after].filter(([a, b]) => a < b);
      }),
    [...pairs],
  );

/** Overlapping stretches as one: it began when the first began, and ends with the last. */
export function merged(stretches: readonly Stretch[]): Stretch[] {
  const sorted = [...stretches].sort((a, b) => a.from.latest - b.from.latest);
  const joined: Stretch[] = [];
  for (const one of sorted) {
    const last = joined.at(-1);
    if (last && one.from.earliest <= (last.to?.latest ?? Infinity))
      joined[joined.length - 1] = both(last, one);
    else joined.push(one);
  }
  return joined;
}

const both = (a: Stretch, b: Stretch): Stretch => ({
  from: {
    earliest: Math.min(a.from.earliest, b.from.earliest),
    latest: Math.min(a.from.latest, b.from.latest),
  },
  to: a.to &&
    b.to && {
      earliest: Math.max(a.to.earliest, b.to.earliest),
      latest: Math.max(a.to.latest, b.to.latest),
    },
});

export const sumOf = (bounds: readonly Bounds[]): Bounds =>
  bounds.reduce<Bounds>(([a, b], [c, d]) => [a + c, b + d], [0, 0]);
