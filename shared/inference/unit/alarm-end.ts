import type { Span } from '../../base/span.ts';
import { edgesIn } from '../track.ts';
import type { HardLockout } from './belief.ts';
import type { Moment } from './moment.ts';
import { ALARM_LAG } from './wiring.ts';

/**
 * When a hard lockout ended that a break of call or power within `at` is thought to have ended: its alarm goes with it, a
 * relay's lag later. Where call or power is polled, what really broke it may have been over between two polls, and then
 * the alarm alone tells (handbook 3: a break shorter than the poll is invisible; 4 rule 6).
 */
export function endByAlarm(
  moment: Moment,
  hard: HardLockout,
  at: Span,
  by: 'call-broken' | 'power-broken' | null,
): Span {
  const gone = hard.alarm && alarmGone(moment, hard.alarm, at);
  const lag = lagOf(moment, by);
  if (!gone || lag === null) return at;
  const earliest = Math.max(at.earliest, gone.earliest - lag);
  const latest = Math.min(at.latest, gone.latest);
  const both = earliest <= latest ? { earliest, latest } : null;
  if (isBreakSeen(moment)) return both ?? at;
  const unseen = {
    earliest: gone.earliest - (lag > ALARM_LAG ? lag : 0),
    latest: Math.min(gone.latest, at.latest),
  };
  if (!both || unseen.earliest > unseen.latest) return both ?? at;
  return {
    earliest: Math.min(both.earliest, unseen.earliest),
    latest: Math.max(both.latest, unseen.latest),
  };
}

/** The alarm's first opening since it closed, as far as it belongs to a lockout that ended by `at`. */
const alarmGone = ({ belief }: Moment, alarm: Span, at: Span): Span | null =>
  edgesIn(belief.tracks.alarm, alarm.latest, at.latest + ALARM_LAG).find(
    ({ to, earliest }) => to === 0 && earliest >= alarm.latest,
  ) ?? null;

/** How long after the lockout its alarm may go; null: one that is released on alarm stays while control power is away. */
function lagOf({ wiring: { byRole } }: Moment, by: 'call-broken' | 'power-broken' | null): number | null {
  const isReleased = byRole.alarm?.point.alarmOn === 'released';
  if (!isReleased) return ALARM_LAG;
  if (by !== 'call-broken' || !byRole.power) return null;
  return Math.max(ALARM_LAG, byRole.power.period);
}

const isBreakSeen = ({ wiring: { byRole } }: Moment): boolean =>
  byRole.call?.onChange === true && byRole.power?.onChange === true;
