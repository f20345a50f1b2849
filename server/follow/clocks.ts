import { clockShifts, correctionAt, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import type { Clocks } from '../../db/follow-work.ts';
import type { Lives } from '../../db/follow-states.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { SILENT_PERIODS } from '../../shared/inference/horizon.ts';
import type { Standing } from '../../shared/inference/standing.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';

/** A claimed time with its gateway's dated offset applied, as the record is read. */
export const corrected = (shifts: readonly ClockShift[], claimed: Instant): Instant =>
  claimed + correctionAt(shifts, claimed);

/** Clocks with the offsets of those sites whose history is known. */
export function correctClocks(claimed: Clocks, historyOf: (site: string) => SiteHistory | null): Clocks {
  const lives = claimed.lives.map((life) => {
    const history = historyOf(life.site);
    const shifts = history ? clockShifts(history, `${life.gateway}/life`) : [];
    return { ...life, t: corrected(shifts, life.t) };
  });
  return { ...claimed, lives };
}

/** A site's now: the later of its gateways' newest life and the newest watch mark; null: nothing was ever heard. */
export function nowOf({ watched, lives }: Clocks, site: string): Instant | null {
  const heard = lives.filter((life) => life.site === site).map(({ t }) => t);
  const all = watched === null ? heard : [...heard, watched];
  return all.length === 0 ? null : all.reduce((a, b) => Math.max(a, b));
}

export const lifeOf = ({ lives }: Clocks, site: string, gateway: string): Instant | null =>
  lives.find((life) => life.site === site && life.gateway === gateway)?.t ?? null;

/**
 * A new life of a gateway matters to a fold that has gone past the last one, and to one that has found the gateway silent:
 * what reports on change there may be known again. While an event waits for some points alone, every life matters.
 */
export function leastTellingLife(
  standing: Standing | null,
  lives: Lives,
  history: SiteHistory,
  now: Instant | null,
): Instant {
  if (standing?.wakeOnAnyLife) return -Infinity;
  const telling = Object.entries(lives).map(([id, t]) => {
    const silent =
      t !== null && now !== null && t + seconds(SILENT_PERIODS * shortestPeriod(history, id)) < now;
    return t === null || silent ? -Infinity : t;
  });
  return telling.reduce((least, t) => Math.min(least, t), Infinity);
}

/** Seconds between a gateway's heartbeats, as ever promised: silent by another version of the settings is silent too. */
const shortestPeriod = (history: SiteHistory, gateway: string): number =>
  history
    .flatMap(({ site }) => site.gateways.find(({ id }) => id === gateway)?.heartbeatSeconds ?? [])
    .reduce((least, period) => Math.min(least, period), Infinity);
