import { readClaimedClocks } from '../../db/follow-work.ts';
import { readLastHeard } from '../../db/read-service.ts';
import { readOldest } from '../../db/read-samples.ts';
import { readStandings } from '../../db/read-status.ts';
import type { Queries } from '../../db/pool.ts';
import { observabilityOf, type Observability } from '../../shared/inference/observability.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import {
  siteAt,
  type Panel,
  type Point,
  type Site,
  type Space,
  type Unit,
} from '../../shared/telemetry/site.ts';
import type { SiteDocument, UnitDocument } from '../../shared/wire/site-document.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Threshold, UnitFacts, UnitView, WiredPoint } from '../../shared/wire/unit-view.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from './read-status.ts';
import { unitSettings } from './settings.ts';
import { unitStatus } from './site-parts.ts';

/** Everything that a unit's page shows beside its series and events; null: there is no such unit. */
export function readUnitView(service: Service, site: string, unit: string): Promise<UnitView | null> {
  const revision = service.revisionOf(`site:${site}`);
  return inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, site);
    const now = service.now();
    const current = setup && siteAt(setup.history, now);
    const found = current?.units.find(({ id }) => id === unit);
    if (!setup || !current || !found) return null;
    const rows = await readStandings(queries, [site]);
    const clocks = await readClaimedClocks(queries);
    const panel = current.panels.find(({ id }) => id === found.panel)!;
    const space = current.spaces.find(({ id }) => id === found.space)!;
    const points = chartPoints(found, panel, space, current);
    const status = unitStatus(
      found,
      rows.find(({ kind, device }) => kind === 'unit' && device === unit),
    );
    return {
      site: { id: current.id, name: current.name, timeZone: current.timeZone },
      panel: {
        id: panel.id,
        name: panel.name,
        nominalVoltage: panel.nominalVoltage,
        minimumStartSeparation: panel.minimumStartSeparationSeconds,
      },
      space: { id: space.id, name: space.name, temperatureLimit: space.temperatureLimit },
      serverTime: wireInstant(now)!,
      epoch: service.epoch,
      revision,
      watchedThrough: wireInstant(clocks.watched),
      dataAt: wireInstant(newestLife(clocks.lives, site)),
      firstDataAt: wireInstant(await readOldest(queries, idsOf(setup, found.points))),
      unit: status,
      settings: unitSettings(found.protection, status.standing?.settingsSeen ?? []),
      points: await wiredPoints(queries, setup, points),
      thresholds: thresholdsOf(found, panel, space),
      facts: factsOf(setup, unit, now),
      observability: wireObservability(observabilityOf(current, unit)!),
    };
  });
}

/** The answer's lists are its own. */
const wireObservability = (found: Observability): UnitView['observability'] => ({
  summary: [...found.summary],
  kinds: [...found.kinds],
  blind: [...found.blind],
  assumed: [...found.assumed],
  changes: found.changes.map((change) => ({ ...change, gains: [...change.gains] })),
});

const newestLife = (lives: readonly { readonly site: string; readonly t: number }[], site: string) =>
  lives.reduce<number | null>(
    (newest, life) => (life.site === site ? Math.max(newest ?? life.t, life.t) : newest),
    null,
  );

/** The unit's points, then those of its panel and its space. */
const chartPoints = (unit: Unit, panel: Panel, space: Space, site: Site): Point[] => [
  ...unit.points,
  ...panel.points,
  ...space.points,
  ...site.points.filter(({ signal }) => signal === 'outdoor-temperature' || signal === 'space-temperature'),
];

const idsOf = (setup: Setup, points: readonly Point[]): number[] =>
  points.flatMap(({ device, signal }) => setup.ids.points.get(`${device}/${signal}`) ?? []);

async function wiredPoints(queries: Queries, setup: Setup, points: readonly Point[]): Promise<WiredPoint[]> {
  const heard = new Map(
    (await readLastHeard(queries, idsOf(setup, points))).map((row) => [row.pointId, row]),
  );
  return points.map((point) => {
    const row = signalRow(point.signal);
    const last = heard.get(setup.ids.points.get(`${point.device}/${point.signal}`) ?? -1);
    return {
      device: point.device,
      signal: point.signal,
      name: row.name,
      kind: row.kind,
      measure: row.measure,
      gateway: point.gateway,
      contact: point.contact,
      sense: point.sense,
      reporting: point.reporting,
      resolution: point.resolutionSeconds,
      of: [...point.of],
      ...(last ? { lastHeard: { t: wireInstant(last.t)!, v: last.value, why: last.why } } : {}),
    };
  });
}

function thresholdsOf(unit: Unit, panel: Panel, space: Space): Threshold[] {
  const { undervoltageTrip } = unit.protection;
  const trip = undervoltageTrip.value;
  const rated = unit.nameplate.ratedLoadAmps;
  return [
    ...(trip === null
      ? []
      : [{ signal: 'control-voltage' as const, value: trip, says: 'undervoltage trip' }]),
    { signal: 'control-voltage', value: 5, says: 'control power gone' },
    { signal: 'contactor-voltage', value: 0.85 * 24, says: 'on above' },
    { signal: 'contactor-voltage', value: 0.75 * 24, says: 'off below' },
    ...(rated === null
      ? []
      : [{ signal: 'compressor-current' as const, value: 0.2 * rated, says: 'on above' }]),
    { signal: 'line-voltage', value: 0.9 * panel.nominalVoltage, says: 'sag below' },
    ...(space.temperatureLimit === null
      ? []
      : [{ signal: 'space-temperature' as const, value: space.temperatureLimit, says: 'limit' }]),
  ];
}

export function factsOf(setup: Setup, unit: string, now: number): UnitFacts {
  const document = setup.documents.findLast(({ from }) => from <= now)?.document as SiteDocument | undefined;
  const given: Partial<UnitDocument> = document?.units?.find(({ id }) => id === unit) ?? {};
  return {
    position: given.position ?? null,
    disconnect: given.disconnect ?? null,
    make: given.make ?? null,
    model: given.model ?? null,
    serial: given.serial ?? null,
    refrigerant: given.refrigerant ?? null,
    filter: given.filter ?? null,
    breaker: given.breaker ?? null,
    notes: given.notes ?? null,
    lockedRotorAmps: given.nameplate?.lockedRotorAmps ?? null,
    ratedLoadAmps: given.nameplate?.ratedLoadAmps ?? null,
  };
}
