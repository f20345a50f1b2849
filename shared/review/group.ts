import { seconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import { isOnset, isSeed, type SupplyFact } from './supply-fact.ts';

/**
 * Which facts are one power event. Two ways to belong together, both followed to the end of the chain:
 *
 * - at one site, what overlaps or follows within `RECLOSING_SECONDS`: a row of reclosings, an outage with its restart, a
 *   stretch on the generator with both transfers;
 * - at several sites (and panels), what began at the same instant as far as their clocks can tell: one fault of the
 *   utility, seen in several places. Sites aren't known by feeder: that they saw it together is the evidence.
 *
 * A power event is called by the id of its first event. It answers to every id in it (`groupWith`), so a link stays good
 * when late data put an earlier event before the first: its old name is then the id of a member, or of one that was
 * replaced, which the store follows.
 */
export interface PowerEvent {
  readonly id: string;
  readonly kind: PowerEventKind;
  /** when the supply first failed */
  readonly start: Span;
  /** when it was last restored; null: it isn't yet, as far as is known */
  readonly end: Instant | null;
  /** through the last restart that was awaited; null: still under way */
  readonly settled: Instant | null;
  /** in order of their names */
  readonly sites: readonly SiteShare[];
  /** of its dips, per unit of declared voltage; null: none was measured */
  readonly lowest: number | null;
}

export type PowerEventKind = 'outage' | 'sag' | 'swell' | 'starting-dip' | 'generator';

/** What one site saw of it. */
export interface SiteShare {
  readonly site: string;
  readonly start: Span;
  readonly end: Instant | null;
  readonly settled: Instant | null;
  readonly panels: readonly string[];
  readonly facts: readonly SupplyFact[];
}

/** Reclosers try again within some tens of seconds, a few times [common practice, no source]. */
const RECLOSING_SECONDS = 180;
/** A loss whose end nobody ever told takes in what follows for so long, and then no more [our choice]. */
const OPEN_REACH_SECONDS = 86_400;
/** Two meters on one supply see one dip begin within this much [our choice: some cycles and the gateways' rounding] */
const TOGETHER_SECONDS = 0.5;

/** `doubt`: seconds by which a site's clocks may be off. Oldest first. */
export function groupFacts(
  facts: readonly SupplyFact[],
  doubt: (site: string) => number,
): readonly PowerEvent[] {
  const sorted = [...new Map(facts.map((fact) => [fact.id, fact])).values()].sort(byStart);
  const whole = makeUnion(sorted.length);
  const place = new Map(sorted.map((fact, i) => [fact.id, i]));
  const join = (a: SupplyFact, b: SupplyFact): void => whole.join(place.get(a.id)!, place.get(b.id)!);
  for (const [site, own] of bySite(sorted))
    joinChains(
      own,
      (fact) => [fact.start.earliest, reachOf(fact) + seconds(RECLOSING_SECONDS + doubt(site))],
      join,
    );
  joinChains(sorted.filter(isOnset), (fact) => widened(fact, doubt(fact.site)), join);
  const groups = gathered(sorted, (fact) => whole.rootOf(place.get(fact.id)!));
  return [...groups.values()].filter((group) => group.some(isSeed)).map(powerEvent);
}

/** The one that an event belongs to; null: it makes no power event. */
export const groupWith = (groups: readonly PowerEvent[], id: string): PowerEvent | null =>
  groups.find(({ sites }) => sites.some(({ facts }) => facts.some((fact) => fact.id === id))) ?? null;

const byStart = (a: SupplyFact, b: SupplyFact): number =>
  a.start.latest - b.start.latest || (a.id < b.id ? -1 : 1);

const endOf = ({ end, start }: SupplyFact): Instant => Math.max(end ?? Infinity, start.latest);

const reachOf = (fact: SupplyFact): Instant =>
  Math.min(endOf(fact), fact.end ?? fact.start.latest + seconds(OPEN_REACH_SECONDS));

function widened({ start }: SupplyFact, doubt: number): readonly [Instant, Instant] {
  const by = seconds(doubt + TOGETHER_SECONDS / 2);
  return [start.earliest - by, start.latest + by];
}

/** Joins what overlaps, through chains: sorted by where each begins, one belongs if it begins before the chain's end. */
function joinChains(
  facts: readonly SupplyFact[],
  reach: (fact: SupplyFact) => readonly [Instant, Instant],
  join: (a: SupplyFact, b: SupplyFact) => void,
): void {
  const spans = facts.map((fact) => ({ fact, reach: reach(fact) })).sort((a, b) => a.reach[0] - b.reach[0]);
  let chain: { readonly fact: SupplyFact; readonly end: Instant } | null = null;
  for (const { fact, reach: span } of spans) {
    if (chain && span[0] <= chain.end) {
      join(chain.fact, fact);
      chain = { fact, end: Math.max(chain.end, span[1]) };
    } else chain = { fact, end: span[1] };
  }
}

const bySite = (facts: readonly SupplyFact[]): Map<string, SupplyFact[]> =>
  gathered(facts, ({ site }) => site);

function gathered<K>(facts: readonly SupplyFact[], keyOf: (fact: SupplyFact) => K): Map<K, SupplyFact[]> {
  const groups = new Map<K, SupplyFact[]>();
  for (const fact of facts) {
    const group = groups.get(keyOf(fact));
    if (group) group.push(fact);
    else groups.set(keyOf(fact), [fact]);
  }
  return groups;
}

/** Union-find over places in a list: which of them hang together. */
function makeUnion(count: number) {
  const parents = Array.from({ length: count }, (_, i) => i);
  const rootOf = (i: number): number => {
    let root = i;
    while (parents[root] !== root) root = parents[root]!;
    while (parents[i] !== root) [parents[i], i] = [root, parents[i]!];
    return root;
  };
  return { rootOf, join: (a: number, b: number): void => void (parents[rootOf(b)] = rootOf(a)) };
}

/** Sorted facts that belong together. */
function powerEvent(facts: readonly SupplyFact[]): PowerEvent {
  const seeds = facts.filter(isSeed);
  const residuals = facts.flatMap(({ kind, residual }) =>
    residual === null || kind === 'voltage-swell' ? [] : [residual],
  );
  const sites = [...bySite(facts)].sort(([a], [b]) => (a < b ? -1 : 1));
  return {
    id: seeds[0]!.id,
    kind: kindOf(seeds, sites.length),
    start: spanOf(seeds),
    end: lastEnd(suppliesOf(seeds)),
    settled: lastEnd(facts),
    sites: sites.map(([site, own]) => shareOf(site, own)),
    lowest: residuals.length > 0 ? Math.min(...residuals) : null,
  };
}

function shareOf(site: string, facts: readonly SupplyFact[]): SiteShare {
  const seeds = facts.filter(isSeed);
  const own = seeds.length > 0 ? seeds : facts;
  const panels = new Set(facts.flatMap(({ panel }) => (panel === null ? [] : [panel])));
  return {
    site,
    start: spanOf(own),
    end: lastEnd(suppliesOf(own)),
    settled: lastEnd(facts),
    panels: [...panels].sort(),
    facts,
  };
}

function kindOf(seeds: readonly SupplyFact[], sites: number): PowerEventKind {
  const kinds = new Set(seeds.map(({ kind }) => kind));
  if (
    ['power-loss', 'interruption', 'restart-sequence'].some((kind) => kinds.has(kind as SupplyFact['kind']))
  )
    return 'outage';
  if (kinds.has('voltage-sag'))
    return sites === 1 && seeds.every(({ atOwnStart }) => atOwnStart) ? 'starting-dip' : 'sag';
  return kinds.has('voltage-swell') ? 'swell' : 'generator';
}

/** Without restarts: they come after the supply is back. Where nothing else tells of it, their beginning is that. */
function suppliesOf(facts: readonly SupplyFact[]): SupplyFact[] {
  const supplies = facts.filter(({ kind }) => kind !== 'restart-sequence');
  return supplies.length > 0 ? supplies : facts.map((fact) => ({ ...fact, end: fact.start.latest }));
}

const spanOf = (facts: readonly SupplyFact[]): Span => ({
  earliest: facts.reduce((least, { start }) => Math.min(least, start.earliest), Infinity),
  latest: facts.reduce((least, { start }) => Math.min(least, start.latest), Infinity),
});

function lastEnd(facts: readonly SupplyFact[]): Instant | null {
  const last = facts.reduce((most, fact) => Math.max(most, endOf(fact)), -Infinity);
  return last === Infinity ? null : last;
}
