import type { Instant } from '../../../shared/base/instant.ts';
import type { UnitStanding } from '../../../shared/inference/standing.ts';
import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import { readRevision } from '../../../shared/wire/revision-wire.ts';
import { readInstant, readSpan, readUnitStanding } from '../../../shared/wire/standing-wire.ts';
import type {
  BoardSite,
  GatewayStatus,
  PanelStatus,
  SiteParts,
  SpaceStatus,
  Strip,
  UnitStatus,
} from '../../../shared/wire/status.ts';
import { continued, type Piece } from '../drawing/pieces.ts';
import type { EventView, PanelView, RoomView, SiteView, UnitLineView } from './site-view.ts';

/** From what crosses the wire to what the page holds: the one place that converts, and that joins parts to a site. */

const instant = (text: string | null): Instant | null => (text === null ? null : readInstant(text));
const seen = (value: { t: string; value: number | null } | null) =>
  value && { t: readInstant(value.t), value: value.value };

export function readSite(site: Omit<BoardSite, 'openEvents'> & Pick<BoardSite, 'openEvents'>): SiteView {
  return {
    id: site.id,
    name: site.name,
    timeZone: site.timeZone,
    ...readHead(site),
    units: site.units.map((unit) => readUnit(unit)),
    rooms: site.spaces.map(readRoom),
    panels: site.panels.map(readPanel),
    gateways: site.gateways.map(readGateway),
    openEvents: site.openEvents.map(readEvent),
  };
}

/** A site with newer parts in the place of those of the same id. */
export function withParts(site: SiteView, parts: SiteParts): SiteView {
  return {
    ...site,
    ...readHead(parts),
    units: replaced(site.units, parts.units, readUnit),
    rooms: replaced(site.rooms, parts.spaces, readRoom),
    panels: replaced(site.panels, parts.panels, readPanel),
    gateways: replaced(site.gateways, parts.gateways, readGateway),
  };
}

/** A site with events amended, added or withdrawn; what is over leaves the list. */
export function withEvents(
  site: SiteView,
  events: readonly EventAnswer[],
  withdrawn: readonly string[],
): SiteView {
  const touched = new Set([...withdrawn, ...events.map((event) => event.id)]);
  const open = events.filter((event) => event.site === site.id && event.end === null && !event.withdrawnAt);
  const kept = site.openEvents.filter((event) => !touched.has(event.id));
  return { ...site, openEvents: [...kept, ...open.map(readEvent)] };
}

const readHead = (parts: Pick<SiteParts, 'dataAt' | 'watchedThrough' | 'inferencePending'>) => ({
  dataAt: instant(parts.dataAt),
  watchedThrough: instant(parts.watchedThrough),
  inferencePending: parts.inferencePending,
});

export function readUnit(unit: UnitStatus, before?: UnitLineView): UnitLineView {
  const standing = unit.standing ? readUnitStanding(unit.standing) : NOTHING_FOLDED;
  return {
    id: unit.id,
    name: unit.name,
    panel: unit.panel,
    space: unit.space,
    role: unit.role,
    signals: unit.signals,
    standing,
    dataAt: instant(unit.dataAt),
    knownThrough: instant(unit.knownThrough),
    stopped: unit.stopped,
    pieces: unit.strip
      ? readStrip(unit.strip)
      : before
        ? continued(before.pieces, before.standing, standing)
        : [],
  };
}

/** No fold has run yet. */
const NOTHING_FOLDED: UnitStanding = {
  phase: 'not-known',
  since: null,
  certainty: 'certain',
  cause: null,
  causeCertainty: null,
  pending: [],
  call: null,
  until: null,
  untilFrom: null,
  overdue: false,
  startsLastHour: 0,
  lastSeen: {},
  event: null,
};

const readStrip = (strip: Strip): Piece[] => {
  const from = readInstant(strip.from);
  return strip.phases.map(({ phase, start, end, certainty }) => ({
    phase,
    certainty,
    from: from + start * 1e6,
    to: from + end * 1e6,
  }));
};

const readRoom = (space: SpaceStatus): RoomView => ({
  id: space.id,
  name: space.name,
  units: space.units,
  space: {
    cooling: space.cooling,
    since: readSpan(space.since),
    able: space.able,
    installed: space.installed,
    needed: space.needed,
    temperature: seen(space.temperature),
    temperatureLimit: space.temperatureLimit,
  },
});

const readPanel = (panel: PanelStatus): PanelView => ({
  id: panel.id,
  name: panel.name,
  units: panel.units,
  nominalVoltage: panel.nominalVoltage,
  panel: {
    power: panel.power,
    since: readSpan(panel.since),
    lineVoltage: seen(panel.lineVoltage),
    generator: panel.generator,
    restarting: panel.restarting,
  },
});

const readGateway = (gateway: GatewayStatus) => ({
  id: gateway.id,
  lastLife: instant(gateway.lastLife),
  silentSince: instant(gateway.silentSince),
});

export const readEvent = (event: EventAnswer): EventView => ({
  ...(event as Omit<EventAnswer, 'start' | 'end' | 'evidence' | 'inferredAt' | 'withdrawnAt' | 'history'>),
  start: readSpan(event.start)!,
  end: readSpan(event.end),
  evidence: event.evidence.map(({ device, ...rest }) => ({
    ...rest,
    ...(device === undefined ? {} : { device }),
    t: readInstant(rest.t),
  })),
  inferredAt: readInstant(event.inferredAt),
  withdrawnAt: event.withdrawnAt === undefined ? null : readInstant(event.withdrawnAt),
  history: (event.history ?? []).map(readRevision),
});

function replaced<V extends { readonly id: string }, W extends { readonly id: string }>(
  held: readonly V[],
  newer: readonly W[],
  read: (wire: W, before?: V) => V,
): readonly V[] {
  if (newer.length === 0) return held;
  const byId = new Map(newer.map((wire) => [wire.id, wire]));
  const kept = held.map((view) => {
    const wire = byId.get(view.id);
    byId.delete(view.id);
    return wire ? read(wire, view) : view;
  });
  return [...kept, ...[...byId.values()].map((wire) => read(wire))];
}
