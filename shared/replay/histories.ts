import { settingVariants, withTimerError, type ControlSettings } from '../control/settings.ts';
import type { DatedSite, Protection, Site, SiteHistory, Unit } from '../telemetry/site.ts';

/**
 * A replay has two histories of a site's configuration, with the same instants: as recorded, and as asked for. What a control
 * keeps (its delays) makes other outputs; what only judges (tolerances, limits) makes other conclusions from the same ones.
 */
export interface Histories {
  readonly recorded: SiteHistory;
  readonly replayed: SiteHistory;
}

/** Everything recorded but what only judges, which is as asked for: the seen rows are judged under it. */
export const judgedHistory = ({ recorded, replayed }: Histories): SiteHistory =>
  recorded.map((version, i) => judgedVersion(version, replayed[i]!.site));

function judgedVersion({ from, site }: DatedSite, asked: Site): DatedSite {
  const units = site.units.map((unit) => {
    const other = asked.units.find(({ id }) => id === unit.id);
    if (!other) return unit;
    const { tolerance, settingError, startsPerHourLimit } = other.protection;
    return { ...unit, protection: { ...unit.protection, tolerance, settingError, startsPerHourLimit } };
  });
  return { from, site: { ...site, units, panels: asked.panels, spaces: asked.spaces } };
}

export const isSame = (a: unknown, b: unknown): boolean => JSON.stringify(a) === JSON.stringify(b);

/** Every control that a protection's settings allow, each with its timers a little short, true and long. */
export const controlsOf = (protection: Protection, timerError: number): ControlSettings[] =>
  settingVariants(protection).flatMap((settings) =>
    timerError === 0
      ? [settings]
      : [settings, withTimerError(settings, -timerError), withTimerError(settings, timerError)],
  );

/** The unit in the version that holds at the stretch's end: one replay has one control a unit. */
export const unitAtEnd = (history: SiteHistory, unit: string, at: number): Unit | null => {
  const version = history.findLast(({ from }) => from <= at) ?? history[0];
  return version?.site.units.find(({ id }) => id === unit) ?? null;
};
