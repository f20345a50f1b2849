import { parseInstant } from '../base/instant.ts';
import { SIGNALS } from '../telemetry/signals.ts';
import type { Gateway, Panel, Point, Protection, Setting, Site, Space, Unit } from '../telemetry/site.ts';
import { DEFAULT_GATEWAY } from './check-references.ts';
import type {
  GatewayDocument,
  PanelDocument,
  PointDocument,
  ProtectionDocument,
  SiteDocument,
  SpaceDocument,
  UnitDocument,
} from './site-document.ts';

/**
 * A checked document with every default filled in (contract section 3, handbook 2.1). A setting given is `recorded`,
 * a default is `assumed`.
 */
export function resolveSite(id: string, document: SiteDocument): Site {
  const name = document.name ?? id;
  const gateways = (document.gateways?.length ? document.gateways : [{ id: DEFAULT_GATEWAY }]).map(
    resolveGateway,
  );
  const to: Wiring = { gateway: gateways[0]!.id };
  const points = (document.points ?? []).map((point) => resolvePoint('site', point, to));
  const ownSpaces = spacesWithoutName(document, name);
  return {
    id,
    name,
    timeZone: document.timeZone,
    gateways,
    spaces: [...(document.spaces ?? []), ...ownSpaces.added].map((space) => resolveSpace(space, to)),
    panels: (document.panels ?? []).map((panel) => resolvePanel(panel, to)),
    units: (document.units ?? []).map((unit) => resolveUnit(unit, ownSpaces.of(unit), points, to)),
    points,
  };
}

interface Wiring {
  /** where a point is wired that names no gateway */
  readonly gateway: string;
}

/**
 * Units that name no space share one where the site lists none (called `space`); in a site that lists spaces each such
 * unit is its own, with the unit's id.
 */
function spacesWithoutName(document: SiteDocument, siteName: string) {
  const nameless = (document.units ?? []).filter((unit) => unit.space === undefined);
  if (document.spaces?.length) {
    const added: SpaceDocument[] = nameless.map(({ id, name }) => ({ id, name: name ?? id }));
    return { added, of: (unit: UnitDocument) => unit.space ?? unit.id };
  }
  const shared = freeId('space', document);
  const added: SpaceDocument[] = nameless.length > 0 ? [{ id: shared, name: siteName }] : [];
  return { added, of: (unit: UnitDocument) => unit.space ?? shared };
}

function freeId(wish: string, document: SiteDocument): string {
  const taken = new Set(
    [...(document.gateways ?? []), ...(document.panels ?? []), ...(document.units ?? [])].map(({ id }) => id),
  );
  let id = wish;
  for (let i = 2; taken.has(id); i++) id = `${wish}-${i}`;
  return id;
}

const resolveGateway = (gateway: GatewayDocument): Gateway => ({
  id: gateway.id,
  heartbeatSeconds: gateway.heartbeatSeconds ?? null,
  clockUncertaintySeconds: gateway.clockUncertainty ?? 1,
  clockOffsets: (gateway.clockOffsets ?? [])
    .map(({ from, seconds }) => ({ from: from === 'always' ? -Infinity : parseInstant(from)!, seconds }))
    .sort((a, b) => a.from - b.from),
});

const resolveSpace = (space: SpaceDocument, to: Wiring): Space => ({
  id: space.id,
  name: space.name ?? space.id,
  temperatureLimit: space.limits?.temperature ?? null,
  forecastSeconds: space.limits?.forecastSeconds ?? 3600,
  unitsNeeded: space.unitsNeeded ?? 1,
  inUse: space.inUse ?? [],
  points: (space.points ?? []).map((point) => resolvePoint(space.id, point, to)),
});

const resolvePanel = (panel: PanelDocument, to: Wiring): Panel => ({
  id: panel.id,
  name: panel.name ?? panel.id,
  nominalVoltage: panel.nominalVoltage ?? 240,
  phases: panel.phases ?? 1,
  frequency: panel.frequency ?? 60,
  supply: panel.supply
    ? {
        kind: panel.supply.kind,
        ratedKva: panel.supply.ratedKva,
        // impedance and X/R of a small distribution transformer, from memory
        impedancePercent: panel.supply.impedancePercent ?? 2,
        reactanceToResistance: panel.supply.reactanceToResistance ?? 1.5,
      }
    : null,
  generator: panel.generator
    ? {
        ratedKva: panel.generator.ratedKva,
        transientReactance: panel.generator.transientReactance ?? null,
      }
    : null,
  startVoltageLimit: panel.startVoltageLimit ?? 0.9,
  minimumStartSeparationSeconds: panel.minimumStartSeparation ?? 2,
  points: (panel.points ?? []).map((point) => resolvePoint(panel.id, point, to)),
});

const resolveUnit = (unit: UnitDocument, space: string, sitePoints: readonly Point[], to: Wiring): Unit => ({
  id: unit.id,
  name: unit.name ?? unit.id,
  panel: unit.panel,
  space,
  role: unit.role ?? null,
  equipment: unit.equipment ?? 'cooling-only',
  dehumidification: unit.dehumidification ?? false,
  thermostatDelaySeconds: unit.thermostatDelay ?? 300,
  allowedOnGenerator: unit.allowedOnGenerator ?? true,
  nameplate: {
    lockedRotorAmps: unit.nameplate?.lockedRotorAmps ?? null,
    ratedLoadAmps: unit.nameplate?.ratedLoadAmps ?? null,
    codeLetter: unit.nameplate?.codeLetter ?? null,
    horsepower: unit.nameplate?.horsepower ?? null,
  },
  protection: resolveProtection(unit.protection ?? {}, unit.holdUp),
  points: [
    ...(unit.points ?? []).map((point) => resolvePoint(unit.id, point, to)),
    ...sitePoints.filter((point) => point.of.includes(unit.id)),
  ],
});

function setting<T>(given: T | undefined, assumed: T): Setting<T> {
  return given === undefined ? { value: assumed, known: 'assumed' } : { value: given, known: 'recorded' };
}

/** Common values of handbook 2.1; `tolerance` and `settingError` from handbook 4 [from memory]. */
const resolveProtection = (given: ProtectionDocument, holdUp: number | undefined): Protection => ({
  offDelay: setting(given.offDelay, 210),
  offDelayFrom: setting(given.offDelayFrom, 'either'),
  powerUpBase: setting(given.powerUpBase, 120),
  powerUpShare: setting(given.powerUpShare, 0.1),
  lowPressureBypass: setting(given.lowPressureBypass, 120),
  lowPressureRetry: setting(given.lowPressureRetry, 'either'),
  stopsCounted: setting(given.stopsCounted, 'either'),
  undervoltageTrip: setting<number | null>(given.undervoltageTrip, 18),
  undervoltageStartGrace: setting(given.undervoltageStartGrace, 0),
  undervoltageDelayFrom: setting(given.undervoltageDelayFrom, 'either'),
  holdUp: setting(given.holdUp ?? holdUp, 0),
  tolerance: given.tolerance ?? 0.05,
  settingError: given.settingError ?? 10,
  startsPerHourLimit: given.startsPerHourLimit ?? 10,
});

/** Pressure switches open on a trip, so that normally-closed is how they are usually wired (contract section 2). */
const isPressure = (signal: string): boolean => signal === 'high-pressure' || signal === 'low-pressure';

function resolvePoint(device: string, point: PointDocument, to: Wiring): Point {
  const row = SIGNALS[point.signal];
  return {
    device,
    signal: point.signal,
    gateway: point.gateway ?? to.gateway,
    contact: point.contact ?? (isPressure(point.signal) ? 'normally-closed' : 'normally-open'),
    sense: point.sense ?? (isPressure(point.signal) ? 'loop' : 'own'),
    alarmOn: point.alarmOn ?? 'energised',
    of: point.of ?? [],
    reporting:
      point.reporting?.mode === 'polled'
        ? { mode: 'polled', seconds: point.reporting.seconds! }
        : { mode: 'on-change' },
    debounceSeconds: point.debounce ?? 0.05,
    resolutionSeconds: point.resolution ?? 0.1,
    deadband: point.deadband ?? 0,
    range: point.range ? [point.range[0]!, point.range[1]!] : row.range,
    scale: point.scale ?? 1,
    offset: point.offset ?? 0,
    source: point.source
      ? { topic: point.source.topic, pointer: point.source.pointer ?? '', time: point.source.time ?? null }
      : null,
    input: point.input ?? null,
    sparkplug: point.sparkplug ?? null,
  };
}
