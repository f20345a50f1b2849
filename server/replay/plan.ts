import { readSiteClocks } from '../../db/follow-work.ts';
import { readWatch } from '../../db/watch-marks.ts';
import { inSeconds, seconds, type Instant } from '../../shared/base/instant.ts';
import type { ReplayPlan } from '../../shared/replay/replay-site.ts';
import { siteAt, type SiteHistory } from '../../shared/telemetry/site.ts';
import { withSettings, type ReplayAsk } from '../../shared/wire/replay-ask.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { correctClocks, nowOf } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { stretchOf } from '../http/query.ts';
import { Refusal } from '../http/refusal.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';

/** What was asked, checked against the site and the bounds, or refused with what to do. */
export interface PlannedReplay {
  readonly plan: ReplayPlan;
  readonly setup: Setup;
}

/** A month of one unit, four days of fifty: about 2 MB of answer. */
const LONGEST_DAYS = 31;
const MOST_UNIT_DAYS = 200;
const DAY = 86_400;

export async function planReplay(service: Service, asked: ReplayAsk): Promise<PlannedReplay> {
  const { from, to } = stretchOf(asked);
  const found = await inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, asked.site);
    if (!setup) return null;
    const clocks = correctClocks(await readSiteClocks(queries, asked.site), () => setup.history);
    const watch = await readWatch(queries, from - seconds(DAY));
    return { setup, watch, now: nowOf(clocks, asked.site) };
  });
  if (!found) throw new Refusal('not-found', `There is no site "${asked.site}".`);
  const { setup, watch, now } = found;
  const recorded = within(setup, from, to);
  if (now === null || from >= now)
    throw refused('/from', 'Nothing has been heard from the site for this stretch yet: give an earlier one.');
  const replayed = otherHistory(setup, recorded, asked);
  const units = unitsOf(asked, recorded, replayed, to);
  checkSize(from, to, units.length);
  return {
    setup,
    plan: {
      site: asked.site,
      recorded,
      replayed,
      units,
      from,
      to,
      now,
      watch,
      timerError: asked.timerError ?? 0,
    },
  };
}

const refused = (pointer: string, message: string): Refusal =>
  new Refusal('bad-request', 'This can’t be replayed.', [{ pointer, message }]);

function checkSize(from: Instant, to: Instant, units: number): void {
  const days = inSeconds(to - from) / DAY;
  if (days > LONGEST_DAYS)
    throw refused(
      '/to',
      `A replay takes at most ${LONGEST_DAYS} days: give an earlier end, or replay it in parts.`,
    );
  if (days * units > MOST_UNIT_DAYS)
    throw refused(
      '/units',
      `${units} units over ${Math.ceil(days)} days are more than the ${MOST_UNIT_DAYS} unit-days that one replay takes: ` +
        'name fewer units, or give a shorter stretch.',
    );
}

/** The versions that touch the stretch, with the hours before it; the first stands for all earlier ones. */
function within({ history }: Setup, from: Instant, to: Instant): SiteHistory {
  const early = history.findLastIndex((version) => version.from <= from - seconds(DAY));
  return history
    .slice(Math.max(0, early))
    .filter((version, i) => i === 0 || version.from <= to + seconds(DAY));
}

function otherHistory({ documents, history }: Setup, recorded: SiteHistory, asked: ReplayAsk): SiteHistory {
  const { settings } = asked;
  if (!settings) return recorded;
  return recorded.map((version) => {
    const document = documents[history.indexOf(version)]!.document as SiteDocument;
    const other = withSettings(asked.site, document, settings);
    if (other.ok) return { from: version.from, site: other.site };
    throw new Refusal('bad-configuration', 'The other settings were refused.', other.faults);
  });
}

function unitsOf(
  { units, settings }: ReplayAsk,
  recorded: SiteHistory,
  replayed: SiteHistory,
  to: Instant,
): string[] {
  const site = siteAt(recorded, to)!;
  const known = new Set(site.units.map(({ id }) => id));
  const absent = units?.findIndex((id) => !known.has(id)) ?? -1;
  if (units && absent >= 0)
    throw refused(
      `/units/${absent}`,
      `There is no unit "${units[absent]}" in this stretch: give one that its document has.`,
    );
  if (units) return [...new Set(units)];
  const otherwise = settings?.units?.map(({ id }) => id).filter((id) => known.has(id)) ?? [];
  const panels = (settings?.panels ?? []).map(({ id }) => id);
  const onPanels = siteAt(replayed, to)!
    .units.filter(({ panel }) => panels.includes(panel))
    .map(({ id }) => id);
  const found = [...new Set([...otherwise, ...onPanels])];
  return found.length > 0 ? found : [...known];
}
