import { seconds } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Certainty } from '../event.ts';
import { edgesIn, holds, valueBefore, valueBy } from '../track.ts';
import type { HardLockout } from './belief.ts';
import { dueAfter, offDelayOf, powerBefore, type Moment } from './moment.ts';
import { ALARM_LAG } from './wiring.ts';

/** How sure it is that the control latched, and that a first stop did not (handbook 4 rule 4). */

/**
 * May a start have been refused in this call before, by an open high-pressure switch? It counts as a first stop (handbook
 * 2.2 rule 3, from memory), so that what looks like the first may have latched already.
 */
export function mayHaveRefused({ belief, wiring }: Moment): boolean {
  const { call, lastRun, tracks } = belief;
  if (call?.unexplained) return true;
  if (!call?.since || !lastRun) return false;
  if (lastRun.earliest - call.since.latest <= AT_ONCE) return false;
  if (!wiring.byRole.high) return true;
  return (
    valueBefore(tracks.high, call.since.latest) !== 0 ||
    edgesIn(tracks.high, call.since.earliest, lastRun.latest).length > 0
  );
}

/** A start this soon after its call waited for nothing: a scan, a relay [from memory]. */
const AT_ONCE = seconds(1);

/**
 * Alarm seen with the output off, the call present and control power known present: certain (handbook 4 rule 4), where it
 * moved when the control can have latched.
 */
export function hardCertainty(
  moment: Moment,
  { alarm, start, because }: Pick<HardLockout, 'alarm' | 'start' | 'because'>,
): Certainty {
  if (!alarm) return 'probable';
  const { byRole } = moment.wiring;
  if ((byRole.alarm?.point.of.length ?? 0) > 1)
    return moment.belief.call?.stops.length ? 'probable' : 'possible';
  const { call, output } = moment.belief.tracks;

  const called = holds(call, 1, alarm.earliest, alarm.latest) && byRole.call?.point.sense !== 'upstream';
  // an alarm that moves long after the stop it is said to belong to may have another reason
  if (because === 'second-stop' && alarm.earliest - start.latest > ALARM_LAG) return 'probable';
  if (!isLatchDue(moment, alarm, because)) return 'probable';
  const off = valueBy(output, Math.max(alarm.latest, start.latest)) === 0;
  return called && off && powerBefore(moment, alarm.earliest) === 'present' ? 'certain' : 'probable';
}

/** At a protective stop, or when the retry of one was due; without either an open high-pressure switch must be seen. */
function isLatchDue(moment: Moment, alarm: Span, because: HardLockout['because']): boolean {
  const { belief, wiring } = moment;
  if (because === 'alarm-alone') return holds(belief.tracks.high, 1, alarm.earliest, alarm.latest);
  const stop = because === 'refused-retry' ? belief.call?.stops.at(-1) : null;
  if (!stop) return true;
  const { tolerance, settingError, offDelay } = wiring.protection;
  if (offDelay.known === 'assumed') return true;
  const due = dueAfter(stop.span, offDelayOf(wiring), tolerance);
  return alarm.latest >= due.earliest - seconds(settingError);
}
