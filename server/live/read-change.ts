import type { StandingRow } from '../../db/read-status.ts';
import { wireAlarm } from '../../shared/wire/alarm-wire.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import type { SiteParts } from '../../shared/wire/status.ts';
import { answerOf } from '../status/read-status.ts';
import {
  gatewayStatus,
  panelStatus,
  siteHead,
  spaceStatus,
  unitStatus,
  type Now,
} from '../status/site-parts.ts';
import type { Change } from './changes.ts';
import type { RoomChange } from './room-changes.ts';

/** What a change means for the pages, by site: the parts that are other now, and the events. */
export function siteChanges(
  change: Change,
  heads: Map<string, string>,
  now: Instant,
): Map<string, RoomChange> {
  const bySite = new Map<string, RoomChange>();
  for (const setup of change.setups) {
    const site = siteAt(setup.history, now);
    if (!site) continue;
    const rows = change.standings.filter((row) => row.site === setup.id);
    const events = change.events.filter(({ event }) => event.site === setup.id);
    const alarms = change.alarms.filter(({ alarm }) => alarm.site === setup.id);
    const parts = changedParts(site, rows, change, heads);
    if (!parts && events.length + alarms.length === 0) continue;
    bySite.set(setup.id, {
      parts: parts ? [parts] : [],
      events: events.filter(({ withdrawnAt }) => withdrawnAt === null).map(answerOf),
      withdrawn: events
        .filter(({ withdrawnAt }) => withdrawnAt !== null)
        .map(({ event, replacedBy }) => ({ id: event.id, site: setup.id, replacedBy })),
      samples: [],
      alarms: alarms.map((kept) => wireAlarm(kept, site)),
    });
  }
  return bySite;
}

/** null: nothing that pages show has changed. `heads` remembers what each site's head last said. */
function changedParts(
  site: Site,
  rows: readonly StandingRow[],
  change: Change,
  heads: Map<string, string>,
): SiteParts | null {
  const now: Now = { clocks: change.clocks, pending: change.pending.get(site.id) ?? 0 };
  const head = siteHead(site, now);
  const said = JSON.stringify(head);
  if (rows.length === 0 && heads.get(site.id) === said) return null;
  heads.set(site.id, said);
  const of = (kind: StandingRow['kind']) =>
    new Map(rows.filter((row) => row.kind === kind).map((row) => [row.device, row]));
  const changed = { unit: of('unit'), space: of('space'), panel: of('panel'), gateway: of('gateway') };
  return {
    ...head,
    units: site.units
      .filter(({ id }) => changed.unit.has(id))
      .map((one) => unitStatus(one, changed.unit.get(one.id))),
    spaces: site.spaces
      .filter(({ id }) => changed.space.has(id))
      .map((one) => spaceStatus(site, one, changed.space.get(one.id))),
    panels: site.panels
      .filter(({ id }) => changed.panel.has(id))
      .map((one) => panelStatus(site, one, changed.panel.get(one.id))),
    gateways: site.gateways
      .filter(({ id }) => changed.gateway.has(id))
      .map((one) => gatewayStatus(site, one, changed.gateway.get(one.id), now)),
  };
}
