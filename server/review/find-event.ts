import type { Queries } from '../../db/pool.ts';
import { readEvent } from '../../db/read-events.ts';
import { readSupplyFacts } from '../../db/read-review.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { groupFacts, groupWith, type PowerEvent } from '../../shared/review/group.ts';
import { isSupplyKind, SUPPLY_KINDS, type SupplyFact } from '../../shared/review/supply-fact.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import type { Setups } from '../follow/setup.ts';

/** Power events as they are now: grouped from stored events each time that they are asked for. Nothing folds anew. */
const FACTS_BOUND = 100_000;
const DAY = seconds(86_400);
/** A group that reaches to the edge of what was read is read again with so many days more around it. */
const WIDER: readonly number[] = [1, 7, 31];

/** The power event that an event's id belongs to, or one that it was replaced by; null: there is none. */
export async function findPowerEvent(
  queries: Queries,
  setups: Setups,
  id: string,
  now: Instant,
): Promise<PowerEvent | null> {
  const kept = await readEvent(queries, id);
  if (!kept || !isSupplyKind(kept.event.kind)) return null;
  const { event } = kept;
  let found: PowerEvent | null = null;
  for (const days of WIDER) {
    const from = event.start.earliest - days * DAY;
    const to = (event.end?.latest ?? now) + days * DAY;
    const facts = await readFacts(queries, from, to);
    found = groupWith(groupFacts(facts, await doubts(queries, setups, facts)), event.id);
    if (!found || (found.start.earliest > from + DAY / 2 && (found.settled ?? now) < to - DAY / 2)) break;
  }
  return found;
}

/** Power events that touch a stretch, newest first; of one site, as that site alone saw them. `whole`: false where the bound of what is read was reached. */
export async function listPowerEvents(
  queries: Queries,
  setups: Setups,
  { from, to }: { readonly from: Instant; readonly to: Instant },
  site: string | null = null,
): Promise<{ readonly events: PowerEvent[]; readonly whole: boolean }> {
  const facts = await readFacts(queries, from - DAY, to, site);
  const events = groupFacts(facts, await doubts(queries, setups, facts))
    .filter(({ settled, start }) => (settled ?? Infinity) >= from && start.latest < to)
    .sort((a, b) => b.start.latest - a.start.latest || (a.id < b.id ? -1 : 1));
  return { events, whole: facts.length < FACTS_BOUND };
}

const readFacts = (
  queries: Queries,
  from: Instant,
  to: Instant,
  site: string | null = null,
): Promise<SupplyFact[]> =>
  readSupplyFacts(queries, {
    kinds: SUPPLY_KINDS,
    sites: site === null ? null : [site],
    from,
    to,
    limit: FACTS_BOUND,
  });

/** How far each site's clocks may be off: its gateways' greatest uncertainty. */
async function doubts(
  queries: Queries,
  setups: Setups,
  facts: readonly SupplyFact[],
): Promise<(site: string) => number> {
  const by = new Map<string, number>();
  for (const site of new Set(facts.map((fact) => fact.site))) {
    const setup = await setups.read(queries, site);
    const gateways = siteAt(setup?.history ?? [], Infinity)?.gateways ?? [];
    by.set(
      site,
      gateways.reduce((most, one) => Math.max(most, one.clockUncertaintySeconds), 0),
    );
  }
  return (site) => by.get(site) ?? 0;
}
