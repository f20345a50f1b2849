import type { Bounds } from '../base/span.ts';
import {
  added,
  EPSILON,
  inversionsOf,
  mayStartTogether,
  type ArrangeAsk,
  type Arrangement,
  type Candidate,
  type Cost,
  type Option,
  type Picked,
} from './arrange.ts';

/**
 * Which unit gets which setting, for many units: places in time are chosen first, by how many settings they let one keep,
 * then units are put into them, largest first. Where all controls count alike it keeps as many apart as can be and, where
 * all are apart, changes as few as can be; the finer wishes of arrange.ts are met as far as that leaves it free. Its work
 * grows with places × units.
 */
interface Place {
  readonly wait: Bounds;
  /** null: only what is kept there */
  readonly offDelay: number | null;
  /** units that need no change to start in it */
  readonly kept: readonly Candidate[];
}

export function arrangeMany(ask: ArrangeAsk): Arrangement | null {
  const apart = chained({ ...ask, capacity: 0 });
  return apart ?? (ask.capacity === 0 ? null : chained(ask));
}

function chained(ask: ArrangeAsk): Arrangement | null {
  const options = new Map(ask.candidates.map((one) => [one, optionsOf(one)]));
  const places = placesOf(ask.candidates, options);
  const count = ask.candidates.length;
  const { chain, steps } = chainOf(places, Math.min(count, places.length), ask);
  if (chain.length < count && ask.capacity === 0) return null;
  const filled = fill(chain, ask, options, true) ?? fill(chain, ask, options, false);
  if (!filled) return null;
  return { groups: filled, cost: costOf(filled), steps: steps + count * chain.length };
}

/** Of each unit, what it can be set to, by setting. */
type Options = ReadonlyMap<Candidate, ReadonlyMap<number, Option>>;

const optionsOf = ({ settable }: Candidate): ReadonlyMap<number, Option> =>
  new Map(settable.map((option) => [option.offDelay, option]));

/** A place for each setting, wide enough for whichever unit, and one for each wait that is kept as it is. */
function placesOf(candidates: readonly Candidate[], of: Options): Place[] {
  const settings = new Set(candidates.flatMap(({ settable }) => settable.map(({ offDelay }) => offDelay)));
  const hulls = [...settings].flatMap((offDelay) => {
    const options = candidates.map((candidate) => of.get(candidate)!.get(offDelay));
    const waits = options.flatMap((option) => (option ? [option.wait] : []));
    if (waits.length < candidates.length) return [];
    return [{ offDelay, wait: hullOf(waits) }];
  });
  const own = candidates.flatMap(({ kept }) => (kept ? [{ offDelay: null, wait: kept.wait }] : []));
  return [...hulls, ...own]
    .map((place) => ({
      ...place,
      kept: candidates.filter(({ kept }) => kept && isIn(kept.wait, place.wait)),
    }))
    .sort((a, b) => a.wait[1] - b.wait[1] || b.wait[0] - a.wait[0]);
}

const hullOf = (waits: readonly Bounds[]): Bounds => [
  Math.min(...waits.map(([low]) => low)),
  Math.max(...waits.map(([, high]) => high)),
];
const isIn = (wait: Bounds, place: Bounds): boolean =>
  wait[0] >= place[0] - EPSILON && wait[1] <= place[1] + EPSILON;

interface Link {
  readonly kept: number;
  readonly place: number;
  readonly before: Link | null;
}

/**
 * The longest chain of places that lie a spacing apart, at most `most` long; of those the one that keeps most, and of those
 * the one that ends first. A place that nobody can be set to counts only with somebody who is kept there.
 */
function chainOf(places: readonly Place[], most: number, { spacing, capacity }: ArrangeAsk) {
  let steps = 0;
  let links: (Link | null)[] = places.map((place, i) => ({
    kept: keeps(place, capacity),
    place: i,
    before: null,
  }));
  let best = endOf(links);
  for (let length = 2; length <= most; length++) {
    const next: (Link | null)[] = [];
    let reach = 0;
    let before: Link | null = null;
    for (const [i, place] of inOrderOfBeginning(places)) {
      for (; reach < places.length && places[reach]!.wait[1] <= place.wait[0] - spacing + EPSILON; reach++) {
        steps++;
        before = better(before, links[reach] ?? null);
      }
      next[i] = before && { kept: before.kept + keeps(place, capacity), place: i, before };
    }
    links = places.map((_, i) => next[i] ?? null);
    const found = endOf(links);
    if (!found) break;
    best = found;
  }
  const chain: Place[] = [];
  for (let link = best; link; link = link.before) chain.unshift(places[link.place]!);
  return { chain, steps };
}

const inOrderOfBeginning = (places: readonly Place[]) =>
  [...places.entries()].sort(([, a], [, b]) => a.wait[0] - b.wait[0]);

/** links come in the order of their ends: of equals the first stays */
const better = (a: Link | null, b: Link | null): Link | null => (a && (!b || b.kept <= a.kept) ? a : b);
const endOf = (links: readonly (Link | null)[]): Link | null => links.reduce(better, null);

/** How many may be kept in a place: one, or as many as may start together. */
function keeps({ kept, offDelay }: Place, capacity: number | null): number {
  const together = keptTogether(kept, capacity).length;
  return offDelay === null && together === 0 ? -Infinity : together;
}

function keptTogether(kept: readonly Candidate[], capacity: number | null): readonly Candidate[] {
  const found: Candidate[] = [];
  for (const one of bySize(kept).reverse())
    if (found.length === 0 || (capacity !== 0 && mayStartTogether([...found, one], capacity)))
      found.push(one);
  return found;
}

const bySize = (candidates: readonly Candidate[]): Candidate[] =>
  [...candidates].sort((a, b) => (b.amps ?? 0) - (a.amps ?? 0));

/** Puts every unit into a place: those that are kept first, then each of the rest, largest first. Null: one finds none. */
function fill(
  chain: readonly Place[],
  ask: ArrangeAsk,
  options: Options,
  isKeeping: boolean,
): Picked[][] | null {
  const groups: Picked[][] = chain.map(() => []);
  const left = new Set(ask.candidates);
  if (isKeeping)
    for (const [i, place] of chain.entries()) {
      const kept = keptTogether(place.kept, ask.capacity);
      for (const candidate of kept) {
        groups[i]!.push({ candidate, option: candidate.kept! });
        left.delete(candidate);
      }
    }
  for (const candidate of bySize([...left])) {
    const own = { candidate, options: options.get(candidate)! };
    const i = placeFor(own, groups, chain, ask);
    if (i === null) return null;
    groups[i]!.push({ candidate, option: optionIn(own, chain[i]!)! });
  }
  return groups.filter((group) => group.length > 0);
}

/** The first that is empty; else the least loaded that bears it. */
function placeFor(
  own: Own,
  groups: readonly (readonly Picked[])[],
  chain: readonly Place[],
  { capacity }: ArrangeAsk,
): number | null {
  const fits = chain.flatMap((place, i) => (optionIn(own, place) ? [i] : []));
  const empty = fits.find((i) => groups[i]!.length === 0);
  if (empty !== undefined) return empty;
  const amps = (i: number) => groups[i]!.reduce((sum, one) => sum + (one.candidate.amps ?? 0), 0);
  const bearing = fits
    .filter((i) => mayStartTogether([...groups[i]!.map((one) => one.candidate), own.candidate], capacity))
    .sort((a, b) => amps(a) - amps(b) || groups[a]!.length - groups[b]!.length || a - b);
  return bearing[0] ?? null;
}

interface Own {
  readonly candidate: Candidate;
  readonly options: ReadonlyMap<number, Option>;
}

function optionIn({ candidate: { kept }, options }: Own, place: Place): Option | null {
  if (kept && isIn(kept.wait, place.wait)) return kept;
  return place.offDelay === null ? null : (options.get(place.offDelay) ?? null);
}

export function costOf(groups: readonly (readonly Picked[])[]): Cost {
  let cost: Cost = [0, 0, 0, 0, 0];
  const earlier: Candidate[] = [];
  for (const group of groups) {
    const members = group.map(({ candidate }) => candidate);
    cost = added(cost, group, inversionsOf(earlier, members));
    earlier.push(...members);
  }
  return cost;
}
