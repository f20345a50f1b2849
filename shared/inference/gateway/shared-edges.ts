import { inSeconds, seconds } from '../../base/instant.ts';
import type { Bounds, Span } from '../../base/span.ts';

/**
 * Do two gateways tell of the same outage at different times? Voltage that goes and comes back on a panel is one instant
 * for everything on it, so edges that two gateways saw of it show how far their clocks are apart (handbook 3, "Clocks").
 *
 * The difference is looked for that makes the most edges of the one meet edges of the other: away with away, back with
 * back, on the same panel, each edge once. It is told only where it explains at least two edges more than clocks that
 * agree, and where no other difference explains as many.
 */
export interface SupplyEdge {
  readonly gateway: string;
  /** `<device>/<signal>` that showed it */
  readonly key: string;
  /** null: of the whole site */
  readonly panel: string | null;
  readonly to: 'away' | 'back';
  readonly span: Span;
}

export interface SharedEdge {
  readonly to: 'away' | 'back';
  readonly a: SupplyEdge;
  readonly b: SupplyEdge;
}

export interface ClockDifference {
  readonly a: string;
  readonly b: string;
  /** by how much b's clock is ahead of a's, seconds [least, most] */
  readonly aheadSeconds: Bounds;
  readonly shared: readonly SharedEdge[];
  /** two outages or more show it; one alone could be two outages of the same length */
  readonly certainty: 'probable' | 'possible';
}

/** How much sooner or later one voltage may fall or come back than another of the same outage, seconds [from memory]. */
const SLACK = seconds(1);
/** Differences looked for: minutes, and an hour of a wrong time zone or daylight saving with them. */
const FARTHEST = seconds(70 * 60);
/** The newest edges of a gateway that are looked at. */
const LOOKED_AT = 64;
/** Edges that a difference must explain beyond clocks that agree: the going and the coming back of one outage. */
const MORE_THAN_AGREEING = 2;
const SEVERAL_OUTAGES = 4;

export interface PairOptions {
  readonly a: string;
  readonly b: string;
  /** both clocks' uncertainties together: differences within it are none */
  readonly uncertaintySeconds: number;
}

/** Null: they agree, share nothing, or more than one difference would explain what was seen. */
export function clockDifference(
  edges: readonly SupplyEdge[],
  { a, b, uncertaintySeconds }: PairOptions,
): ClockDifference | null {
  const pairs = pairsOf(outagesSeen(edges, a), outagesSeen(edges, b));
  const agreed = seconds(uncertaintySeconds);
  const atZero = matched(pairs, -agreed, agreed);
  const candidates = differences(pairs).filter(({ low, high }) => high < -agreed || low > agreed);
  let best: { readonly low: number; readonly high: number; readonly shared: readonly Pair[] } | null = null;
  let rivals = 0;
  for (const { low, high } of candidates) {
    const shared = matched(pairs, low, high);
    if (best && shared.length < best.shared.length) continue;
    if (!best || shared.length > best.shared.length) {
      best = { ...meeting(shared, { low, high }), shared };
      rivals = 0;
    } else if (apart(best, { low, high })) rivals++;
  }
  if (!best || rivals > 0 || best.shared.length < atZero.length + MORE_THAN_AGREEING) return null;
  if (isMended(best.shared, atZero)) return null;
  return {
    a,
    b,
    aheadSeconds: [inSeconds(best.low), inSeconds(best.high)],
    shared: best.shared.map(({ a: of, b: other }) => ({ to: of.to, a: of, b: other })),
    certainty: best.shared.length >= SEVERAL_OUTAGES ? 'probable' : 'possible',
  };
}

/** Since then both have told of an outage at the same time: the clock is right again. */
const isMended = (shared: readonly Pair[], atZero: readonly Pair[]): boolean =>
  atZero.some(({ a }) => a.span.earliest > Math.max(...shared.map((pair) => pair.a.span.latest)));

/** What one gateway saw, newest last: several points that show one edge are one, as narrow as they make it together. */
function outagesSeen(edges: readonly SupplyEdge[], gateway: string): SupplyEdge[] {
  const seen: SupplyEdge[] = [];
  const own = edges.filter((edge) => edge.gateway === gateway);
  for (const edge of own.sort((x, y) => x.span.latest - y.span.latest)) {
    const i = seen.findLastIndex((one) => one.to === edge.to && one.panel === edge.panel);
    const before = seen[i];
    const both = before && common(before.span, edge.span);
    if (both) seen[i] = { ...before, span: both };
    else seen.push(edge);
  }
  return seen.slice(-LOOKED_AT);
}

function common(a: Span, b: Span): Span | null {
  const earliest = Math.max(a.earliest, b.earliest);
  const latest = Math.min(a.latest, b.latest);
  if (earliest <= latest) return { earliest, latest };
  return earliest - latest <= 2 * SLACK ? { earliest: latest, latest: earliest } : null;
}

interface Pair {
  readonly a: SupplyEdge;
  readonly b: SupplyEdge;
  /** differences of the clocks, b less a, at which they may be one edge */
  readonly low: number;
  readonly high: number;
}

function pairsOf(as: readonly SupplyEdge[], bs: readonly SupplyEdge[]): Pair[] {
  return as.flatMap((a) =>
    bs
      .filter((b) => b.to === a.to && (a.panel === b.panel || a.panel === null || b.panel === null))
      .map((b) => ({
        a,
        b,
        low: b.span.earliest - a.span.latest - SLACK,
        high: b.span.latest - a.span.earliest + SLACK,
      }))
      .filter(({ low, high }) => high >= -FARTHEST && low <= FARTHEST),
  );
}

/** The differences at which the most pairs may meet: stretches between ends of their intervals, fullest first. */
function differences(pairs: readonly Pair[]): { readonly low: number; readonly high: number }[] {
  const ends = pairs
    .flatMap(({ low, high }) => [
      { at: low, by: 1 },
      { at: high, by: -1 },
    ])
    .sort((x, y) => x.at - y.at || y.by - x.by);
  let open = 0;
  const found: { low: number; high: number; open: number }[] = [];
  for (const [i, { at, by }] of ends.entries()) {
    open += by;
    const next = ends[i + 1];
    if (by > 0 && next && next.by < 0) found.push({ low: at, high: next.at, open });
  }
  const most = Math.max(0, ...found.map((one) => one.open));
  // an edge may meet two of the other's, so that the fullest isn't always what explains the most
  return found.filter((one) => one.open >= most / 2);
}

/** Edges that meet at a difference within [low, high], each once, in the order of their time. */
function matched(pairs: readonly Pair[], low: number, high: number): Pair[] {
  const taken = new Set<SupplyEdge>();
  return pairs
    .filter((pair) => pair.low <= high && pair.high >= low)
    .sort((x, y) => x.a.span.latest - y.a.span.latest || x.b.span.latest - y.b.span.latest)
    .filter(({ a, b }) => {
      if (taken.has(a) || taken.has(b)) return false;
      taken.add(a).add(b);
      return true;
    });
}

/** Every difference at which all of the pairs meet. */
const meeting = (pairs: readonly Pair[], within: { low: number; high: number }) => ({
  low: Math.min(within.low, Math.max(...pairs.map(({ low }) => low))),
  high: Math.max(within.high, Math.min(...pairs.map(({ high }) => high))),
});

const apart = (a: { low: number; high: number }, b: { low: number; high: number }): boolean =>
  a.high < b.low || b.high < a.low;
