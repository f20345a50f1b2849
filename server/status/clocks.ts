import { readArrivals, STRETCH_SECONDS } from '../../db/arrivals.ts';
import { readPowerEdges } from '../../db/follow-edges.ts';
import type { Queries } from '../../db/pool.ts';
import { readStandings } from '../../db/read-status.ts';
import { formatInstant, parseInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { clockFindings, type ClockFinding } from '../../shared/inference/gateway/clock-findings.ts';
import type { SharedEdge, SupplyEdge } from '../../shared/inference/gateway/shared-edges.ts';
import { clockShifts, gatewayAt } from '../../shared/telemetry/clock-shifts.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import type { ClockAnswer } from '../../shared/wire/clock-answer.ts';
import { clockSentence } from '../../shared/wire/clock-sentence.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from './read-status.ts';

/**
 * What can be said of a site's gateways' clocks, from when their messages arrive and from the voltage edges that they
 * share. Read when somebody asks; nothing is kept, and no event leans on it.
 */
const LOOK_BACK = seconds(14 * 86_400);
const STRETCHES_READ = 50_000;
const EDGES_READ = 1_000;

export function readClocks(service: Service, site: string): Promise<ClockAnswer[] | null> {
  return inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, site);
    if (!setup) return null;
    const now = service.now();
    const { gateways } = siteAt(setup.history, now)!;
    const arrivals = await readArrivals(queries, site, now - LOOK_BACK, STRETCHES_READ);
    const clocks = gateways.map((gateway) => ({
      gateway,
      shifts: clockShifts(setup.history, `${gateway.id}/life`),
      bins: arrivals
        .filter((one) => one.gateway === gateway.id)
        .map(({ at, count, leastMs }) => ({ at, count, leastSeconds: leastMs / 1000 })),
    }));
    const edges = gateways.length > 1 ? await readSupplyEdges(queries, setup, now) : [];
    return clockFindings(clocks, edges).map((finding) => answerOf(finding, setup, now));
  });
}

/** Control power of the units, and the panels' own supply points. */
async function readSupplyEdges(queries: Queries, setup: Setup, now: Instant): Promise<SupplyEdge[]> {
  const found: SupplyEdge[] = [];
  const add = (edge: Omit<SupplyEdge, 'gateway'>): void => {
    const gateway = gatewayAt(setup.history, edge.key, edge.span.latest);
    if (gateway !== null) found.push({ gateway, ...edge });
  };
  const edges = await readPowerEdges(queries, setup.id, now - LOOK_BACK, EDGES_READ);
  for (const { unit, edge } of edges.reverse()) {
    const panel = siteAt(setup.history, edge.span.latest)?.units.find(({ id }) => id === unit)?.panel ?? null;
    const to = edge.kind === 'power-away' ? 'away' : 'back';
    add({ key: `${unit}/control-voltage`, panel, to, span: edge.span });
  }
  const seen = new Set<string>();
  for (const { kind, device, standing } of await readStandings(queries, [setup.id])) {
    if (kind !== 'panel') continue;
    for (const { key, to, earliest, latest } of standing?.panel?.supplyEdges ?? []) {
      if (latest < now - LOOK_BACK || seen.has(`${key} ${latest}`)) continue;
      seen.add(`${key} ${latest}`);
      add({ key, panel: key.startsWith('site/') ? null : device, to, span: { earliest, latest } });
    }
  }
  return found;
}

function answerOf(finding: ClockFinding, setup: Setup, now: Instant): ClockAnswer {
  const { gateway, against, aheadSeconds, certainty, whose, arrival, edges, from, offsetSeconds } = finding;
  const facts = { edges: edges?.shared.length ?? 0, byArrival: arrival !== null, from, offsetSeconds };
  return {
    gateway,
    against,
    says: clockSentence({ gateway, against, aheadSeconds, certainty, whose, ...facts }, formatInstant),
    aheadSeconds,
    certainty,
    whose,
    arrival: arrival && {
      from: formatInstant(arrival.from),
      to: formatInstant(arrival.to + seconds(STRETCH_SECONDS)),
      stretches: arrival.bins,
      messages: arrival.messages,
      aheadSeconds: arrival.aheadSeconds,
    },
    edges: (edges?.shared ?? []).map((edge) => sharedEdge(edge, gateway)),
    correction: correctionOf(finding, setup, now),
  };
}

function sharedEdge({ to, a, b }: SharedEdge, gateway: string): ClockAnswer['edges'][number] {
  const seen = ({ gateway: by, key, span }: SupplyEdge) => {
    const [device, signal] = key.split('/') as [string, string];
    const [earliest, latest] = [formatInstant(span.earliest), formatInstant(span.latest)];
    return { gateway: by, device, signal, earliest, latest };
  };
  return a.gateway === gateway
    ? { to, here: seen(a), there: seen(b) }
    : { to, here: seen(b), there: seen(a) };
}

/** Offsets before it stay; those from then on give way, for what was found is beyond them. */
function correctionOf(
  { gateway, from, offsetSeconds }: ClockFinding,
  setup: Setup,
  now: Instant,
): ClockAnswer['correction'] {
  const document = setup.documents.findLast((one) => one.from <= now)?.document as SiteDocument | undefined;
  const listed = document?.gateways ?? [];
  const place = listed.findIndex(({ id }) => id === gateway);
  const starts = (text: string): Instant =>
    text === 'always' ? -Infinity : (parseInstant(text) ?? -Infinity);
  const earlier = (listed[place]?.clockOffsets ?? []).filter((one) => starts(one.from) < (from ?? -Infinity));
  const offset = { from: from === null ? 'always' : formatInstant(from), seconds: offsetSeconds };
  const clockOffsets = [...earlier, offset];
  return {
    ...offset,
    pointer: place < 0 ? '/gateways' : `/gateways/${place}/clockOffsets`,
    lines:
      place < 0
        ? JSON.stringify({ gateways: [{ id: gateway, clockOffsets }] }, null, 2)
        : `"clockOffsets": [\n${clockOffsets.map((one) => `  ${JSON.stringify(one)}`).join(',\n')}\n]`,
  };
}
