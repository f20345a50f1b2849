import { readLastRestarts } from '../../db/read-restarts.ts';
import { readStandings, type StandingRow } from '../../db/read-status.ts';
import type { Queries } from '../../db/pool.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import type { SettingSeen, UnitStanding } from '../../shared/inference/standing.ts';
import { startsOf } from '../../shared/stagger/restarts.ts';
import type { PlanUnit } from '../../shared/stagger/waits.ts';
import { siteAt, type Panel, type Site, type SiteHistory, type Unit } from '../../shared/telemetry/site.ts';
import type { Setup } from '../follow/setup.ts';

/** A panel as it is planned for: its units with what restarts have shown of them, and its last restarts. */
export interface PanelCase {
  readonly site: Site;
  readonly panel: Panel;
  readonly units: readonly PlanUnit[];
  readonly names: Readonly<Record<string, string>>;
  /** the last ones, oldest first */
  readonly restarts: readonly EventDraft[];
  /** those of them that its delays as they are recorded now have shaped */
  readonly underThese: readonly EventDraft[];
}

/** So many of the last outages of a panel are looked at, of so many days. */
export const OUTAGES = 5;
const DAYS = 400;
export const sinceOf = (now: Instant): Instant => now - seconds(DAYS * 86_400);

/** Null: there is no such panel now. */
export async function readPanelCase(
  queries: Queries,
  setup: Setup,
  id: string,
  now: Instant,
): Promise<PanelCase | null> {
  const standings = await readStandings(queries, [setup.id]);
  const asked = { only: [setup.id], panel: id, since: sinceOf(now), each: OUTAGES, limit: OUTAGES };
  return panelCase({ setup, id, now, standings, restarts: await readLastRestarts(queries, asked) });
}

export function panelCase(read: {
  readonly setup: Setup;
  readonly id: string;
  readonly now: Instant;
  readonly standings: readonly StandingRow[];
  readonly restarts: readonly EventDraft[];
}): PanelCase | null {
  const { setup, id, now, standings, restarts } = read;
  const site = siteAt(setup.history, now);
  const panel = site?.panels.find((one) => one.id === id);
  if (!site || !panel) return null;
  const units = site.units.filter((unit) => unit.panel === id);
  const seenOf = (unit: Unit): readonly SettingSeen[] => {
    const row = standings.find(({ kind, device }) => kind === 'unit' && device === unit.id);
    return (row?.standing as { unit?: UnitStanding } | null | undefined)?.unit?.settingsSeen ?? [];
  };
  const changed = new Map(units.map((unit) => [unit.id, changedAt(setup.history, unit, now)]));
  const since = Math.max(-Infinity, ...changed.values());
  return {
    site,
    panel,
    units: units.map((unit) => planUnit(unit, seenOf(unit), { changedAt: changed.get(unit.id)!, restarts })),
    names: Object.fromEntries(units.map(({ id: unit, name }) => [unit, name])),
    restarts,
    underThese: restarts.filter(({ start }) => start.earliest >= since),
  };
}

/** From when on its off-cycle delay is recorded as it is now; -Infinity: always. */
function changedAt(history: SiteHistory, unit: Unit, now: Instant): Instant {
  let since = -Infinity;
  let before: number | undefined;
  for (const { from, site } of history) {
    if (from > now) break;
    const value = site.units.find(({ id }) => id === unit.id)?.protection.offDelay.value;
    if (before !== undefined && value !== before) since = from;
    before = value;
  }
  return since;
}

/**
 * What restarts have bracketed counts while its setting is the one that they showed. After a change it counts again once a
 * restart under the new setting has shown its power-up delay, which the bracket then holds.
 */
function planUnit(
  unit: Unit,
  seen: readonly SettingSeen[],
  { changedAt: changed, restarts }: { readonly changedAt: Instant; readonly restarts: readonly EventDraft[] },
): PlanUnit {
  const { protection } = unit;
  const since = restarts.filter(({ start }) => start.earliest >= changed);
  const shown =
    changed === -Infinity || since.some((event) => startsOf(event).some((start) => start.unit === unit.id));
  const bracket = (setting: SettingSeen['setting'], counts: boolean) =>
    (counts && seen.find((one) => one.setting === setting)?.seconds) || null;
  return {
    id: unit.id,
    offDelay: protection.offDelay.value,
    known: protection.offDelay.known,
    powerUpBase: protection.powerUpBase.value,
    powerUpShare: protection.powerUpShare.value,
    settingError: protection.settingError,
    seen: { powerUp: bracket('powerUpDelay', shown), offDelay: bracket('offDelay', changed === -Infinity) },
    amps: unit.nameplate.lockedRotorAmps,
    isOnGenerator: unit.allowedOnGenerator,
  };
}
