import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import { BEGINNING } from './horizon.ts';

/**
 * A track turns the samples of one contact (or of one threshold on an analog value) into edges, each an interval
 * (handbook 3):
 *
 *   polled      seen as x at t1 and as y at t2: changed somewhere in (t1, t2]
 *   on-change   timed at the gateway: t − resolution to t + resolution; changes closer together than the debounce are a
 *               chain, which is one edge from first to last if the value differs after
 *
 * 24 V AC seen through a half-wave input is told as a chatter of 60 or 120 pulses a second: that is presence. A chain of
 * changes so quick and so long is no bounce but a hum: the value is the one that voltage means from its first change to
 * its last.
 *
 * A value is null while it isn't known. Edges to and from null are about knowledge, not about the contact.
 */
export type Value = number | null;

export interface Edge extends Span {
  readonly from: Value;
  readonly to: Value;
}

export interface Track {
  /** the newest sample's value; null: not known */
  raw: Value;
  /** what it was before it became unknown by silence; comes back with the gateway's life */
  held: Value;
  /** newest good sample; BEGINNING before the first (a number, so that storing it makes no garbage) */
  good: Instant;
  chain: Chain | null;
  /** value before the oldest edge that is kept */
  base: Value;
  /** closed edges, oldest first */
  edges: Edge[];
  /** chains that ended as they had begun: it moved, and nothing came of it; oldest first */
  stirs: Span[];
  /** µs by which its gateway's clock may differ from the one that its edges are compared with (handbook 3); absent: none */
  doubt?: number;
}

interface Chain {
  readonly first: Instant;
  last: Instant;
  /** null: it differs from what came back after a silence, and when it changed isn't known */
  readonly from: Value;
  readonly resolution: number;
  readonly debounce: number;
  changes: number;
  /** the value that voltage means, once the chain is a hum; absent: a bounce so far */
  hum?: number;
}

/** A contact's bounce is over by then, µs [common practice, no source]. */
const BOUNCE_OVER = 100_000;
/**
 * Half-wave rectified mains opens and closes an input once a cycle, full-wave twice: at 50 Hz and more, changes follow
 * each other by 10 ms at most, on average; a quarter more for the gateway's own clock.
 */
const HUM_GAP = 12_500;

/** Edges kept per track, more than any rule looks back for; dropped so many at a time, which is quicker than one by one. */
const KEPT = 48;
const DROPPED = 16;
const STIRS_KEPT = 16;

export const newTrack = (): Track => ({
  raw: null,
  held: null,
  good: BEGINNING,
  chain: null,
  base: null,
  edges: [],
  stirs: [],
});

/** Takes a good sample of a polled point. Answers the edge it closes, if any. */
export function takePolled(track: Track, t: Instant, value: number): Edge | null {
  const edge =
    track.raw === value
      ? null
      : { earliest: track.raw === null ? t : track.good, latest: t, from: track.raw, to: value };
  track.good = t;
  return edge ? keep(track, edge) : null;
}

/**
 * Takes a sample of an on-change point; null where its quality isn't good. `present` is the value that voltage on a contact's
 * input means; null where the point is no contact. Answers the edges that it closes.
 */
export function takeOnChange(
  track: Track,
  t: Instant,
  value: Value,
  resolution: number,
  debounce: number,
  present: Value = null,
): readonly Edge[] {
  if (value !== null) track.good = t;
  if (track.raw === value) return [];
  if (value === null || track.raw === null) {
    const closed = value === null ? breakChain(track) : closeChain(track);
    const edge = { earliest: value === null ? t - resolution : t, latest: t, from: track.raw, to: value };
    return [...closed, keep(track, edge)];
  }
  if (track.chain && t - track.chain.last <= track.chain.debounce) {
    track.chain.last = t;
    track.chain.changes++;
    track.raw = value;
    return present === null ? [] : beginHum(track, track.chain, present);
  }
  const closed = closeChain(track);
  const back = track.edges.at(-1);
  // a gateway that comes back reads its points within their resolution
  const changedUnseen = back?.from === null && t - back.latest + doubtOf(track) <= debounce + resolution;
  track.chain = {
    first: t,
    last: t,
    from: changedUnseen ? null : track.raw,
    resolution,
    debounce,
    changes: 1,
  };
  track.raw = value;
  return closed;
}

/** When the open chain can be closed; null if none is open. */
export const chainEnd = (track: Track): Instant | null =>
  track.chain ? track.chain.last + track.chain.debounce : null;

/** Since when the open chain makes the value uncertain; null if none is open. Of a hum only its end is. */
export function chainStart(track: Track): Instant | null {
  const { chain } = track;
  if (!chain) return null;
  return (chain.hum === undefined ? chain.first : chain.last) - chain.resolution - doubtOf(track);
}

/** Is voltage there, as a chatter that hasn't been seen to end? */
export const isHumming = ({ chain }: Track): boolean => chain?.hum !== undefined;

/** The chain has lasted longer than a bounce, as quick as mains: from its first change on voltage was there. */
function beginHum(track: Track, chain: Chain, present: number): readonly Edge[] {
  const lasted = chain.last - chain.first;
  if (chain.hum !== undefined || lasted < BOUNCE_OVER || lasted > HUM_GAP * (chain.changes - 1)) return [];
  chain.hum = present;
  if (chain.from === present) return [];
  const { raw } = track;
  const earliest = chain.first - chain.resolution;
  const latest = chain.first + chain.resolution;
  const edge = keep(track, { earliest, latest, from: chain.from, to: present });
  track.raw = raw;
  return [edge];
}

/** No further change came within the debounce. */
export function closeChain(track: Track): readonly Edge[] {
  const { chain } = track;
  if (!chain) return [];
  track.chain = null;
  const { hum, last, resolution } = chain;
  const from = hum ?? chain.from;
  const earliest = (hum === undefined ? chain.first : last) - resolution;
  const latest = last + resolution;
  if (from !== track.raw) return [keep(track, { earliest, latest, from, to: track.raw })];
  if (hum === undefined)
    track.stirs.push({ earliest: earliest - doubtOf(track), latest: latest + doubtOf(track) });
  if (track.stirs.length > STIRS_KEPT) track.stirs.shift();
  return [];
}

/** What comes after the chain isn't known: of a hum, that voltage was there is the last that was. */
function breakChain(track: Track): readonly Edge[] {
  const hum = track.chain?.hum;
  if (hum === undefined) return closeChain(track);
  track.chain = null;
  track.raw = hum;
  return [];
}

/** The value isn't known from `at` on. */
export function lose(track: Track, at: Instant): readonly Edge[] {
  if (track.raw === null) return [];
  const closed = breakChain(track);
  const from = track.raw;
  track.held = from;
  // its last change may have come in the very moment through which it was known
  const last = track.edges.at(-1);
  const since = last ? Math.max(at, last.latest - doubtOf(track)) : at;
  return [...closed, keep(track, { earliest: since, latest: since, from, to: null })];
}

/** An on-change value is known again: its gateway lives and would have told a change. */
export function regain(track: Track, at: Instant): readonly Edge[] {
  if (track.raw !== null || track.held === null) return [];
  const to = track.held;
  track.held = null;
  return [keep(track, { earliest: at, latest: at, from: null, to })];
}

const doubtOf = (track: Track): number => track.doubt ?? 0;

function keep(track: Track, narrow: Edge): Edge {
  const edge = widened(track, narrow);
  track.edges.push(edge);
  if (track.edges.length >= KEPT + DROPPED) {
    track.base = track.edges[DROPPED - 1]!.to;
    track.edges.splice(0, DROPPED);
  }
  track.raw = edge.to;
  return edge;
}

/** By the clocks' doubt either way; in order also where the doubt has changed with the configuration. */
function widened(track: Track, edge: Edge): Edge {
  const { doubt } = track;
  if (doubt === undefined) return edge;
  const latest = Math.max(edge.latest + doubt, track.edges.at(-1)?.latest ?? edge.latest);
  return { ...edge, earliest: edge.earliest - doubt, latest };
}

// Edges lie in the order of their latest instants and what is asked for is recent: all of these look from the end.

/** The value just before the span: what no overlapping edge has touched yet. */
export const valueBefore = (track: Track, instant: Instant): Value => {
  const since = heldSince(track, instant);
  return since ? since.to : track.base;
};

/** The value once every edge that may lie at or before `instant` is over; one begins after the last look at it. */
export function valueBy(track: Track, instant: Instant): Value {
  for (let i = track.edges.length - 1; i >= 0; i--) {
    const edge = track.edges[i]!;
    if (edge.earliest < instant || edge.latest <= instant) return edge.to;
  }
  return track.base;
}

/** The edges that may lie within [from, to], oldest first. */
export function edgesIn(track: Track, from: Instant, to: Instant): Edge[] {
  const found: Edge[] = [];
  for (let i = track.edges.length - 1; i >= 0; i--) {
    const edge = track.edges[i]!;
    if (edge.latest < from) break;
    if (edge.earliest <= to) found.push(edge);
  }
  return found.reverse();
}

/** The edge to `value` that may lie within [from, to], the last if there are several. */
export function edgeTo(track: Track, value: Value, from: Instant, to: Instant): Edge | null {
  for (let i = track.edges.length - 1; i >= 0; i--) {
    const edge = track.edges[i]!;
    if (edge.latest < from) break;
    if (edge.earliest <= to && edge.to === value) return edge;
  }
  return null;
}

/** Is the value seen as `value` from `from` to `to`, with no edge that may lie between? */
export const holds = (track: Track, value: Value, from: Instant, to: Instant): boolean =>
  valueBefore(track, from) === value && edgesIn(track, from, to).length === 0;

/** Did it move within [from, to] for less than its debounce? */
export const stirredIn = (track: Track, from: Instant, to: Instant): boolean =>
  track.stirs.some(({ earliest, latest }) => latest >= from && earliest <= to);

/** Did what came just after a silence show that the value held until then had changed in it? */
export function isOverruled(track: Track, edge: Edge): boolean {
  if (edge.from !== null) return false;
  // by value: a state that was stored and read again holds its edges as copies
  const place = track.edges.findLastIndex(
    ({ latest, from, to }) => latest === edge.latest && from === null && to === edge.to,
  );
  return place >= 0 && track.edges[place + 1]?.from === null;
}

/**
 * When what an edge shows may have come about: for one that ends a stretch in which nothing was known, somewhere since the
 * value was last known.
 */
export function sinceOf(track: Track, edge: Edge): Span {
  const span = { earliest: edge.earliest, latest: edge.latest };
  if (edge.from !== null) return span;
  const lost = track.edges.findLast(({ to, latest }) => to === null && latest <= edge.latest);
  return lost ? { ...span, earliest: Math.min(lost.earliest, edge.earliest) } : span;
}

/** The edge since which the value has held that holds just before `instant`; null where that isn't known. */
export function heldSince(track: Track, instant: Instant): Edge | null {
  for (let i = track.edges.length - 1; i >= 0; i--) {
    const edge = track.edges[i]!;
    if (edge.latest < instant) return edge;
  }
  return null;
}
