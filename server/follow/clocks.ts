import { clockShifts, correctionAt, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import type { Clocks } from '../../db/follow-work.ts';
import type { Instant } from '../../shared/base/instant.ts';
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
  return { watched: claimed.watched, lives };
}

/** A site's now: the later of its gateways' newest life and the newest watch mark; null: nothing was ever heard. */
export function nowOf({ watched, lives }: Clocks, site: string): Instant | null {
  const heard = lives.filter((life) => life.site === site).map(({ t }) => t);
  const all = watched === null ? heard : [...heard, watched];
  return all.length === 0 ? null : all.reduce((a, b) => Math.max(a, b));
}

export const lifeOf = ({ lives }: Clocks, site: string, gateway: string): Instant | null =>
  lives.find((life) => life.site === site && life.gateway === gateway)?.t ?? null;
