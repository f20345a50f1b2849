import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import type { Bounds } from '../../base/span.ts';
import { correctionAt, type ClockShift } from '../../telemetry/clock-shifts.ts';
import type { Gateway } from '../../telemetry/site.ts';
import { clockByArrival, type ArrivalBin, type ArrivalClock } from './arrival-clock.ts';
import { clockDifference, type ClockDifference, type SupplyEdge } from './shared-edges.ts';

/**
 * What can be said of the clocks of a site's gateways from arrival and from shared voltage edges together: whose clock is
 * off, by how much, since when, and the offset that would set it right. Both kinds of evidence are on corrected time, so
 * that what an offset has set right is no longer found.
 */
export interface ClockFinding {
  readonly gateway: string;
  /** ahead of what: our own clock (null) or another gateway's */
  readonly against: string | null;
  /** seconds by which the clock is ahead, beyond configured offsets; negative: behind */
  readonly aheadSeconds: Bounds;
  readonly certainty: 'certain' | 'probable' | 'possible';
  /**
   * Which of the two is off: `shown` where arrival shows this gateway's clock off or the other's right, `either` where
   * only the edges tell
   */
  readonly whose: 'shown' | 'either';
  readonly arrival: ArrivalClock | null;
  readonly edges: ClockDifference | null;
  /** `seconds` of the offset that would set it right, what is configured already counted in */
  readonly offsetSeconds: number;
  /** claimed time from which the offset should count; null: from the beginning of what is kept */
  readonly from: Instant | null;
}

export interface GatewayClock {
  readonly gateway: Gateway;
  readonly shifts: readonly ClockShift[];
  readonly bins: readonly ArrivalBin[];
}

export function clockFindings(clocks: readonly GatewayClock[], edges: readonly SupplyEdge[]): ClockFinding[] {
  const arrivals = new Map(clocks.map((clock) => [clock.gateway.id, arrivalOf(clock)]));
  const pairs = pairsOf(clocks).flatMap(([a, b]) => differenceOf(a, b, edges));
  const found = new Map<string, ClockFinding>();
  for (const clock of clocks) {
    const { id } = clock.gateway;
    const arrival = arrivals.get(id) ?? null;
    const pair = pairs.find((one) => one.a === id || one.b === id) ?? null;
    if (arrival) found.set(id, byArrival(clock, arrival, pair && isSame(pair, id, arrival) ? pair : null));
  }
  for (const pair of pairs)
    if (!found.has(pair.a) && !found.has(pair.b)) {
      const finding = byEdges(clocks, pair, pairs);
      found.set(finding.gateway, finding);
    }
  return [...found.values()];
}

const arrivalOf = ({ gateway, shifts, bins }: GatewayClock): ArrivalClock | null =>
  clockByArrival(bins, shifts, gateway.clockUncertaintySeconds);

function differenceOf(a: GatewayClock, b: GatewayClock, edges: readonly SupplyEdge[]): ClockDifference[] {
  const uncertaintySeconds = a.gateway.clockUncertaintySeconds + b.gateway.clockUncertaintySeconds;
  const found = clockDifference(edges, { a: a.gateway.id, b: b.gateway.id, uncertaintySeconds });
  return found ? [found] : [];
}

function pairsOf(clocks: readonly GatewayClock[]): (readonly [GatewayClock, GatewayClock])[] {
  return clocks.flatMap((a, i) => clocks.slice(i + 1).map((b) => [a, b] as const));
}

const middle = ([low, high]: Bounds): number => (low + high) / 2;

/** Ahead of the other, as seen from this gateway. */
const aheadOf = ({ b, aheadSeconds: [low, high] }: ClockDifference, id: string): Bounds =>
  b === id ? [low, high] : [-high, -low];

/** Arrival is only known to a network's delay; this near, edges and arrival tell of one fault. */
const ONE_FAULT_SECONDS = 30;
const isSame = (pair: ClockDifference, id: string, arrival: ArrivalClock): boolean =>
  Math.abs(middle(aheadOf(pair, id)) - arrival.aheadSeconds) <= ONE_FAULT_SECONDS;

function byArrival(clock: GatewayClock, arrival: ArrivalClock, edges: ClockDifference | null): ClockFinding {
  const { id } = clock.gateway;
  const against = edges && otherOf(edges, id);
  // edges are the finer measure
  const ahead: Bounds = edges ? aheadOf(edges, id) : [arrival.aheadSeconds, arrival.aheadSeconds];
  const began = edges ? Math.min(arrival.from, firstSeen(edges, against!)) : arrival.from;
  const always = !arrival.beganSeen && clock.shifts.length === 0;
  return {
    gateway: id,
    against,
    aheadSeconds: ahead,
    certainty: arrival.certainty,
    whose: 'shown',
    arrival,
    edges,
    ...offset(clock, ahead, always ? null : began),
  };
}

/** Only the edges tell: the one that differs from several others is off; of two, the one that arrival says nothing for. */
function byEdges(
  clocks: readonly GatewayClock[],
  pair: ClockDifference,
  pairs: readonly ClockDifference[],
): ClockFinding {
  const count = (id: string) => pairs.filter(({ a, b }) => a === id || b === id).length;
  const heard = (id: string) => clockOf(clocks, id).bins.length > 0;
  const [inA, inB] = [count(pair.a), count(pair.b)];
  const off = inA !== inB ? (inA > inB ? pair.a : pair.b) : heard(pair.b) && !heard(pair.a) ? pair.a : pair.b;
  const against = otherOf(pair, off);
  const ahead = aheadOf(pair, off);
  return {
    gateway: off,
    against,
    aheadSeconds: ahead,
    certainty: pair.certainty,
    whose: inA !== inB || (heard(against) && !heard(off)) ? 'shown' : 'either',
    arrival: null,
    edges: pair,
    ...offset(clockOf(clocks, off), ahead, firstSeen(pair, against)),
  };
}

const clockOf = (clocks: readonly GatewayClock[], id: string): GatewayClock =>
  clocks.find(({ gateway }) => gateway.id === id)!;

const otherOf = ({ a, b }: ClockDifference, id: string): string => (a === id ? b : a);

/** The first shared edge on the clock of `by`, a minute of room before it. */
const firstSeen = ({ a, shared }: ClockDifference, by: string): Instant =>
  Math.min(...shared.map((edge) => (by === a ? edge.a : edge.b).span.earliest)) - seconds(60);

/** The whole offset, and from which claimed time it counts: the true instant plus what the clock was ahead in all. */
function offset({ shifts }: GatewayClock, ahead: Bounds, from: Instant | null) {
  const configured = correctionAt(shifts, from ?? 0);
  const all = configured - seconds(middle(ahead));
  return {
    offsetSeconds: Math.round(inSeconds(all) * 10) / 10,
    from: from === null ? null : Math.round((from - all) / seconds(1)) * seconds(1),
  };
}
