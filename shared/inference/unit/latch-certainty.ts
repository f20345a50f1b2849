import { OFF_DELAY_RANGE } from '../members/wired.ts';
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
  if (!call?.since || !lastRun) return true;
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
  if (because === 'second-stop' && !movedTogether(moment, start, alarm)) return 'probable';
  if (because === 'refused-retry' && lastStopTouches(moment, alarm)) return 'probable';
  if (!isLatchDue(moment, alarm, because) || !isSeenWired(moment)) return 'probable';
  const off = valueBy(output, Math.max(alarm.latest, start.latest)) === 0;
  return called && off && powerBefore(moment, alarm.earliest) === 'present' ? 'certain' : 'probable';
}

/**
 * A contact wired the wrong way round is asserted while all is well: this one was seen open in the last run, or before
 * there was a call, when no lockout can stand.
 */
function isSeenWired({ belief: { lastStop, call, tracks } }: Moment): boolean {
  const since = call?.since ?? null;
  const stopped = lastStop && (!since || lastStop.span.latest >= since.earliest);
  const well = stopped ? lastStop.span : since;
  return !!well && valueBefore(tracks.alarm, well.earliest) === 0;
}

/**
 * Did the alarm move with the stop, a relay's lag later at most? One that is polled was still seen open with the output
 * off: then the retry was refused, where it can have been due by then.
 */
export function isAtOnce(moment: Moment, stop: Span, alarm: Span): boolean {
  if (alarm.earliest - stop.latest > ALARM_LAG) return false;
  return alarm.earliest < stop.latest || !mayBeRetry(moment, stop, alarm);
}

/** Within a relay's lag; where it is polled, between the same two polls. */
const movedTogether = ({ wiring }: Moment, stop: Span, alarm: Span): boolean =>
  wiring.byRole.alarm?.onChange ? alarm.earliest - stop.latest <= ALARM_LAG : alarm.earliest < stop.latest;

/** A relay's lag past a poll would make a latch at the stop look like one at the retry. */
const lastStopTouches = ({ belief }: Moment, alarm: Span): boolean =>
  !!belief.lastStop && alarm.earliest - belief.lastStop.span.latest <= ALARM_LAG;

function mayBeRetry({ wiring }: Moment, stop: Span, alarm: Span): boolean {
  const { tolerance, settingError, offDelay } = wiring.protection;
  const recorded = dueAfter(stop, offDelayOf(wiring), tolerance).earliest - seconds(settingError);
  const due = offDelay.known === 'assumed' ? stop.earliest + seconds(OFF_DELAY_RANGE[0]) : recorded;
  return alarm.latest >= due;
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
