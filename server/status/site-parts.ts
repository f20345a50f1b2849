import type { Clocks } from '../../db/follow-work.ts';
import type { StandingRow } from '../../db/read-status.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { LastSeen } from '../../shared/inference/standing.ts';
import type { Gateway, Panel, Site, Space, Unit } from '../../shared/telemetry/site.ts';
import { wireInstant, wireSeen, wireSpan, wireUnitStanding } from '../../shared/wire/standing-wire.ts';
import type {
  GatewayStatus,
  PanelStatus,
  SiteParts,
  SpaceStatus,
  UnitStatus,
} from '../../shared/wire/status.ts';
import { lifeOf } from '../follow/clocks.ts';

/** From a site's configuration and what its folds say now to what pages are given. */
export interface Now {
  readonly clocks: Clocks;
  /** subjects of the site that wait for inference */
  readonly pending: number;
}

export type Rows = ReadonlyMap<string, StandingRow>;

export const rowKey = ({ kind, device }: Pick<StandingRow, 'kind' | 'device'>): string => `${kind}/${device}`;

export function siteParts(site: Site, rows: Rows, now: Now): SiteParts {
  return {
    ...siteHead(site, now),
    units: site.units.map((unit) => unitStatus(unit, rows.get(`unit/${unit.id}`))),
    spaces: site.spaces.map((space) => spaceStatus(site, space, rows.get(`space/${space.id}`))),
    panels: site.panels.map((panel) => panelStatus(site, panel, rows.get(`panel/${panel.id}`))),
    gateways: site.gateways.map((gateway) =>
      gatewayStatus(site, gateway, rows.get(`gateway/${gateway.id}`), now),
    ),
  };
}

export const siteHead = (site: Site, { clocks, pending }: Now) => ({
  id: site.id,
  dataAt: wireInstant(newest(clocks.lives.filter((life) => life.site === site.id).map(({ t }) => t))),
  watchedThrough: wireInstant(clocks.watched),
  inferencePending: pending,
});

const newest = (instants: readonly Instant[]): Instant | null =>
  instants.length === 0 ? null : instants.reduce((a, b) => Math.max(a, b));

const folded = (row: StandingRow | undefined) => ({
  knownThrough: wireInstant(row?.knownThrough ?? null),
  stopped: row?.stopped ?? null,
});

export function unitStatus(unit: Unit, row: StandingRow | undefined): UnitStatus {
  const standing = row?.standing?.unit ?? null;
  const seen = Object.values(standing?.lastSeen ?? {}) as LastSeen[];
  return {
    id: unit.id,
    name: unit.name,
    panel: unit.panel,
    space: unit.space,
    role: unit.role,
    equipment: unit.equipment,
    signals: unit.points.map(({ signal }) => signal),
    standing: standing && wireUnitStanding(standing),
    dataAt: wireInstant(newest(seen.map(({ t }) => t))),
    ...folded(row),
  };
}

export function spaceStatus(site: Site, space: Space, row: StandingRow | undefined): SpaceStatus {
  const units = site.units.filter((unit) => unit.space === space.id).map(({ id }) => id);
  const standing = row?.standing?.space ?? null;
  return {
    id: space.id,
    name: space.name,
    units,
    cooling: standing?.cooling ?? 'not-known',
    since: wireSpan(standing?.since ?? null),
    able: standing?.able ?? 0,
    installed: standing?.installed ?? units.length,
    needed: standing?.needed ?? space.unitsNeeded,
    temperature: wireSeen(standing?.temperature ?? null),
    temperatureLimit: space.temperatureLimit,
    ...folded(row),
  };
}

export function panelStatus(site: Site, panel: Panel, row: StandingRow | undefined): PanelStatus {
  const standing = row?.standing?.panel ?? null;
  return {
    id: panel.id,
    name: panel.name,
    units: site.units.filter((unit) => unit.panel === panel.id).map(({ id }) => id),
    nominalVoltage: panel.nominalVoltage,
    power: standing?.power ?? 'not-known',
    since: wireSpan(standing?.since ?? null),
    lineVoltage: wireSeen(standing?.lineVoltage ?? null),
    generator: standing?.generator ?? null,
    restarting: [...(standing?.restarting ?? [])],
    ...folded(row),
  };
}

export function gatewayStatus(
  site: Site,
  gateway: Gateway,
  row: StandingRow | undefined,
  { clocks }: Now,
): GatewayStatus {
  return {
    id: gateway.id,
    heartbeatSeconds: gateway.heartbeatSeconds,
    lastLife: wireInstant(lifeOf(clocks, site.id, gateway.id)),
    silentSince: wireInstant(row?.standing?.gateway?.silentSince ?? null),
  };
}
