import { setImmediate } from 'node:timers/promises';
import {
  readLatestProposals,
  readProposalSteps,
  type ProposalRow,
  type ProposalStepRow,
} from '../../db/proposals.ts';
import { readLastRestarts } from '../../db/read-restarts.ts';
import { readStandings } from '../../db/read-status.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { StaggerPlan } from '../../shared/stagger/lay-out.ts';
import { pairsOf } from '../../shared/stagger/restarts.ts';
import type { StaggerItem, StaggerList } from '../../shared/wire/stagger-answer.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { OUTAGES, panelCase, sinceOf, type PanelCase } from './panel-case.ts';
import { planPanel, sparedBy } from './plan-panel.ts';
import { keptOf } from './proposals.ts';

/**
 * What all panels could be spared: those on which starts came together in their last outages, and those that have a proposal,
 * with what would be set. Plans are made one after the other, with a breath between, after the reading is done.
 */
const MOST_SITES = 2000;
const MOST_RESTARTS = 10_000;
const MOST_ITEMS = 200;

interface Found extends PanelCase {
  readonly proposal: ProposalRow | null;
}

export async function readStaggerList(
  service: Service,
  only: readonly string[] | null,
): Promise<StaggerList> {
  const now = service.now();
  const { found, steps, panels } = await readFound(service, only, now);
  const items: StaggerItem[] = [];
  for (const one of found.slice(0, MOST_ITEMS)) {
    const item = itemOf(one, steps);
    if (item.together > 0 || item.proposal) items.push(item);
    await setImmediate();
  }
  items.sort((a, b) => b.spared - a.spared || b.together - a.together || a.changes - b.changes);
  return { items, panels, outages: OUTAGES, cut: found.length > MOST_ITEMS };
}

const readFound = (service: Service, only: readonly string[] | null, now: Instant) =>
  inSnapshot(service.database, async (queries) => {
    const asked = { only, panel: null, since: sinceOf(now), each: OUTAGES, limit: MOST_RESTARTS };
    const restarts = grouped(await readLastRestarts(queries, asked));
    const proposals = new Map(
      (await readLatestProposals(queries, only, MOST_RESTARTS)).map((row) => [keyOf(row), row]),
    );
    const steps = await readProposalSteps(
      queries,
      [...proposals.values()].map(({ id }) => id),
    );
    const setups = await service.setups.readMany(queries, '', MOST_SITES, only);
    const places = setups.flatMap((setup) =>
      (setup.history.findLast(({ from }) => from <= now) ?? setup.history[0])!.site.panels.map(({ id }) => ({
        setup,
        id,
        own: restarts.get(`${setup.id}/${id}`) ?? [],
        proposal: proposals.get(`${setup.id}/${id}`) ?? null,
      })),
    );
    const wanted = places
      .filter(({ own, proposal }) => proposal !== null || togetherIn(own) > 0)
      .sort((a, b) => togetherIn(b.own) - togetherIn(a.own));
    const sites = [...new Set(wanted.map(({ setup }) => setup.id))];
    const standings = await readStandings(queries, sites);
    const found = wanted.flatMap(({ setup, id, own, proposal }): Found[] => {
      const at = panelCase({
        setup,
        id,
        now,
        restarts: own,
        standings: standings.filter(({ site }) => site === setup.id),
      });
      return at ? [{ ...at, proposal }] : [];
    });
    return { found, steps, panels: places.length };
  });

const keyOf = ({ site, panel }: { readonly site: string; readonly panel: string | null }): string =>
  `${site}/${panel}`;

function grouped(events: readonly EventDraft[]): Map<string, EventDraft[]> {
  const groups = new Map<string, EventDraft[]>();
  for (const event of events) groups.set(keyOf(event), [...(groups.get(keyOf(event)) ?? []), event]);
  return groups;
}

const togetherIn = (events: readonly EventDraft[]): number =>
  events.flatMap(pairsOf).filter(({ verdict }) => verdict === 'simultaneous').length;

function itemOf(found: Found, steps: readonly ProposalStepRow[]): StaggerItem {
  const { proposal, site, panel } = found;
  const isOpen = proposal?.state === 'drafted' || proposal?.state === 'agreed';
  const plan: StaggerPlan = isOpen ? proposal.plan : planPanel(found, {});
  const { together, spared } = sparedBy(found, plan);
  const kept = proposal && keptOf(proposal, steps, found.restarts);
  return {
    site: { id: site.id, name: site.name, timeZone: site.timeZone },
    panel: { id: panel.id, name: panel.name },
    units: found.units.length,
    names: { ...found.names },
    restarts: found.underThese.length,
    together,
    spared,
    outcome: plan.outcome,
    hold: plan.hold,
    changes: plan.changes,
    price: plan.price,
    sets: plan.units
      .filter(({ isChange }) => isChange)
      .map(({ id, now, proposed }) => ({ unit: id, from: now.offDelay, to: proposed.offDelay })),
    proposal: proposal && { id: proposal.id, state: proposal.state, kept: kept?.verdict ?? null },
  };
}
