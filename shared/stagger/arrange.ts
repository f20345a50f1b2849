import type { Bounds } from '../base/span.ts';

/**
 * Which unit gets which setting, for a few units: every order and every group is looked at, and what can't be part of the
 * best is let go on the way. Units are apart where the least possible wait of the later one comes a spacing after the most
 * possible of the earlier; those that aren't form a group, and start together as far as anybody can promise.
 *
 * The best is, in this order: fewest units in company, fewest changed settings, largest starts first (fewest pairs of which
 * the smaller starts before the larger), least delay of the unit that is delayed most, least sum of waits.
 */
export interface Option {
  readonly offDelay: number;
  readonly nominal: number;
  readonly wait: Bounds;
  readonly isChange: boolean;
}

export interface Candidate {
  readonly id: string;
  readonly amps: number | null;
  /** seconds that it waits now, nominally */
  readonly now: number;
  /** null: nobody knows what it is set to */
  readonly kept: Option | null;
  /** what it can be set to, by ascending wait */
  readonly settable: readonly Option[];
}

export interface ArrangeAsk {
  readonly candidates: readonly Candidate[];
  /** s */
  readonly spacing: number;
  /** amps that may start together; null: not known, so any number may; 0: none */
  readonly capacity: number | null;
}

export interface Arrangement {
  /** in the order of their starts */
  readonly groups: readonly (readonly Picked[])[];
  readonly cost: Cost;
  /** what was looked at: the measure of its work */
  readonly steps: number;
}

export interface Picked {
  readonly candidate: Candidate;
  readonly option: Option;
}

/** company, changes, inversions, latest, sum of waits */
export type Cost = readonly [number, number, number, number, number];

export function compareCosts(a: Cost, b: Cost): number {
  for (let i = 0; i < a.length; i++) {
    const difference = a[i]! - b[i]!;
    if (Math.abs(difference) > 1e-9) return difference;
  }
  return 0;
}

interface Label {
  /** the most possible wait of all that are placed */
  readonly end: number;
  readonly cost: Cost;
  readonly last: readonly Picked[];
  readonly before: Label | null;
}

/** Numbers are compared as decimals are: what is apart by the spacing but for rounding is apart. */
export const EPSILON = 1e-9;

/** Null: no arrangement keeps groups within what may start together. Exact; for at most eight or so. */
export function arrangeFew({ candidates, spacing, capacity }: ArrangeAsk): Arrangement | null {
  const all = (1 << candidates.length) - 1;
  const labels: Label[][] = Array.from({ length: all + 1 }, () => []);
  labels[0]!.push({ end: -Infinity, cost: [0, 0, 0, 0, 0], last: [], before: null });
  let steps = 0;
  for (let placed = 0; placed < all; placed++) {
    if (labels[placed]!.length === 0) continue;
    const rest = all & ~placed;
    for (let set = rest; set > 0; set = (set - 1) & rest) {
      const members = candidates.filter((_, i) => (set >> i) & 1);
      if (!mayStartTogether(members, capacity)) continue;
      const inversions = inversionsOf(
        candidates.filter((_, i) => (placed >> i) & 1),
        members,
      );
      for (const label of labels[placed]!)
        for (const next of groupsAfter(label, members, { spacing, inversions })) {
          steps++;
          keep(labels[placed | set]!, next);
        }
    }
  }
  const best = labels[all]!.toSorted((a, b) => compareCosts(a.cost, b.cost))[0];
  return best ? { groups: groupsIn(best), cost: best.cost, steps } : null;
}

export function mayStartTogether(
  members: readonly Pick<Candidate, 'amps'>[],
  capacity: number | null,
): boolean {
  if (members.length < 2 || capacity === null) return true;
  return members.reduce((sum, { amps }) => sum + (amps ?? 0), 0) <= capacity + EPSILON && capacity > 0;
}

/** Pairs of which the smaller would start before the larger. */
export function inversionsOf(
  earlier: readonly Pick<Candidate, 'amps'>[],
  later: readonly Pick<Candidate, 'amps'>[],
): number {
  let count = 0;
  for (const { amps } of later)
    for (const one of earlier) if (amps !== null && one.amps !== null && one.amps < amps) count++;
  return count;
}

/**
 * The ways in which these may start next, all after the others. Each is kept where it then ends early enough, else set to
 * the first that comes after them: no later setting ends sooner or costs less. One way for each end.
 */
function* groupsAfter(
  label: Label,
  members: readonly Candidate[],
  { spacing, inversions }: { readonly spacing: number; readonly inversions: number },
): Generator<Label> {
  const from = label.end + spacing - EPSILON;
  const ways = members.map(({ kept, settable }) => ({
    kept: kept && kept.wait[0] >= from ? kept : null,
    set: firstFrom(settable, from),
  }));
  const ends = new Set(
    ways.flatMap(({ kept, set }) => [kept, set].flatMap((one) => (one ? [one.wait[1]] : []))),
  );
  for (const end of ends) {
    const last: Picked[] = [];
    for (const [i, { kept, set }] of ways.entries()) {
      const option = [kept, set].find((one) => one !== null && one.wait[1] <= end);
      if (option) last.push({ candidate: members[i]!, option });
    }
    if (last.length < members.length || !last.some(({ option }) => option.wait[1] === end)) continue;
    yield { end, cost: added(label.cost, last, inversions), last, before: label };
  }
}

function firstFrom(settable: readonly Option[], from: number): Option | null {
  let [low, high] = [0, settable.length];
  while (low < high) {
    const middle = (low + high) >> 1;
    if (settable[middle]!.wait[0] >= from) high = middle;
    else low = middle + 1;
  }
  return settable[low] ?? null;
}

export function added(before: Cost, group: readonly Picked[], inversions: number): Cost {
  const changes = group.filter(({ option }) => option.isChange).length;
  const latest = Math.max(...group.map(({ candidate, option }) => option.nominal - candidate.now));
  const waits = group.reduce((sum, { option }) => sum + option.nominal, 0);
  return [
    before[0] + group.length - 1,
    before[1] + changes,
    before[2] + inversions,
    Math.max(before[3], latest),
    before[4] + waits,
  ];
}

/**
 * Of two that have placed the same units, one that ends no later and costs no more makes the other needless. The most that
 * a unit is delayed by doesn't add up as the rest does: where all before it is equal, it and the sum both have to be no more.
 */
function beats(a: Label, b: Label): boolean {
  if (a.end > b.end) return false;
  const counted = compareCosts(sparing(a.cost), sparing(b.cost));
  if (counted !== 0) return counted < 0;
  return a.cost[3] <= b.cost[3] + EPSILON && a.cost[4] <= b.cost[4] + EPSILON;
}

const sparing = ([company, changes, inversions]: Cost): Cost => [company, changes, inversions, 0, 0];

function keep(labels: Label[], next: Label): void {
  if (labels.some((label) => beats(label, next))) return;
  const left = labels.filter((label) => !beats(next, label));
  labels.splice(0, labels.length, ...left, next);
}

function groupsIn(label: Label): (readonly Picked[])[] {
  const groups: (readonly Picked[])[] = [];
  for (let one: Label | null = label; one?.before; one = one.before) groups.unshift(one.last);
  return groups;
}
