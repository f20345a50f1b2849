import { readLatestProposals } from '../../db/proposals.ts';
import type { Queries } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { CAUTIONS } from '../../shared/wire/first-checks.ts';
import { wirePlan } from '../../shared/wire/stagger-wire.ts';
import {
  WORK_ORDER_STEPS,
  workOrderPanel,
  type UnitPlace,
  type WorkOrderPanel,
} from '../../shared/wire/work-order.ts';
import type { Setup } from '../follow/setup.ts';
import { paperOf, type Block, type PrintedDocument } from '../print/blocks.ts';
import { factsOf } from '../status/unit-view.ts';

/** The paper for one visit: every proposal that is agreed at a site. Null: none is. */
export async function readWorkOrder(
  queries: Queries,
  setup: Setup,
  now: Instant,
): Promise<PrintedDocument | null> {
  const site = siteAt(setup.history, now)!;
  const agreed = (await readLatestProposals(queries, [setup.id], 1000)).filter(
    ({ state }) => state === 'agreed',
  );
  const places = Object.fromEntries(site.units.map(({ id, name }) => [id, placeOf(setup, id, name, now)]));
  const panels = agreed.map(({ panel, plan }) => workOrderPanel(nameOf(site, panel), wirePlan(plan), places));
  if (panels.length === 0) return null;
  return {
    title: `Work order: ${site.name}`,
    foot: `${site.name} · times in ${site.timeZone}`,
    paper: paperOf(site.timeZone),
    madeAt: now,
    blocks: [
      { kind: 'list', items: WORK_ORDER_STEPS },
      ...panels.flatMap(blocksOf),
      { kind: 'fields', labels: ['Set by', 'Date and time of the last setting'] },
      { kind: 'heading', text: 'Cautions' },
      { kind: 'list', items: CAUTIONS },
    ],
  };
}

const nameOf = (site: Site, panel: string): string =>
  site.panels.find(({ id }) => id === panel)?.name ?? panel;

function placeOf(setup: Setup, unit: string, name: string, now: Instant): UnitPlace {
  const { position, disconnect } = factsOf(setup, unit, now);
  return { name, position, disconnect };
}

function blocksOf({ heading, says, rows }: WorkOrderPanel): Block[] {
  return [
    { kind: 'heading', text: heading },
    ...says.map((text): Block => ({ kind: 'paragraph', text })),
    {
      kind: 'table',
      columns: [
        { name: 'unit', width: 2 },
        { name: 'where', width: 4 },
        { name: 'now', width: 1, align: 'right' },
        { name: 'set to', width: 1, align: 'right' },
      ],
      rows: rows.map(({ unit, where, now, set }) => [unit, where, now, set]),
    },
    { kind: 'fields', labels: rows.map(({ unit }) => `${unit} shows after setting, and when`) },
  ];
}
