import type { Span } from '../../base/span.ts';
import { seconds } from '../../base/instant.ts';
import { elapsed } from '../../base/span.ts';
import type { EventCause, EventKind, Evidence, Measure } from '../event.ts';
import { valueBefore } from '../track.ts';
import { endByAlarm } from './alarm-end.ts';
import type { CountedStop, HardLockout, Lockout, Reason } from './belief.ts';
import { hardCertainty, isAtOnce, mayHaveRefused } from './latch-certainty.ts';
import { reset } from './lockout-reset.ts';
import { doubtful, draft, dueAfter, least, offDelayOf, saw, tell, type Moment } from './moment.ts';
import { retryDue } from './retry-due.ts';

/**
 * Soft lockouts, hard lockouts, undervoltage holds: opening and ending them (handbook 4 rules 3, 4 and 6; start and end
 * as contract section 4 defines them).
 */

/** A protective stop in a call: the first opens a soft lockout, one more may latch. */
export function protect(moment: Moment, stop: Span, reason: Reason): void {
  const { belief } = moment;
  const earlier = belief.call?.stops.map(({ cause }) => cause) ?? [];
  belief.call?.stops.push({ span: stop, cause: reason.cause, certainty: reason.certainty });
  const alarm = belief.alarmAhead;
  belief.alarmAhead = null;
  if (alarm) return latch(moment, { start: stop, reason, alarm, because: 'second-stop' });
  belief.overdueAt = overdueAt(moment, stop);
  if (earlier.length === 0) {
    const existence = mayHaveRefused(moment) ? least(reason.existence, 'probable') : reason.existence;
    belief.soft = { start: stop, reason: { ...reason, existence }, tentative: moment.tentative };
    tellHeld(moment, stop, reason, 'soft-lockout');
  } else if (mayLatch(moment, [...earlier, reason.cause])) {
    latch(moment, { start: stop, reason, alarm: null, because: 'second-stop' });
  }
}

/** A drop for undervoltage: held off until the off-cycle delay is over and the voltage back; counts toward no lockout. */
export function hold(moment: Moment, stop: Span, reason: Reason): void {
  moment.belief.hold = { start: stop, reason, tentative: moment.tentative };
  tellHeld(moment, stop, reason, 'undervoltage-hold');
}

function tellHeld(moment: Moment, stop: Span, reason: Reason, why: string): void {
  const off = moment.wiring.protection.offDelay.value;
  const ran = moment.belief.lastRan;
  tell(moment, 'held', stop, reason.existence === 'certain', { why, wait: [off, off], ran });
}

/** Do the stops of this call add up to a hard lockout (setting `stopsCounted`)? */
function mayLatch(moment: Moment, causes: readonly EventCause[]): boolean {
  const { stopsCounted } = moment.wiring.protection;
  return stopsCounted.value === 'together' || new Set(causes).size === 1 || causes.includes('pressure');
}

/** When a restart that was due after `stop` is overdue beyond tolerance. */
const overdueAt = (moment: Moment, stop: Span): number =>
  retryDue(moment, stop).latest + seconds(moment.wiring.protection.settingError);

export function latch(
  moment: Moment,
  lockout: Omit<HardLockout, 'certainty' | 'stopsInCall' | 'tentative' | 'after'>,
): void {
  const { belief } = moment;
  const { overdueAt } = belief;
  const after = belief.soft;
  if (lockout.alarm) endSoft(moment, lockout.start);
  else if (after) {
    belief.soft = null;
    tell(moment, 'free', lockout.start);
  }
  const certainty = hardCertainty(moment, lockout);
  const was = belief.hard;
  const { tentative } = moment;
  const stopsInCall = belief.call?.stops.length ?? 0;
  belief.hard = { ...lockout, certainty, stopsInCall, tentative, after: lockout.alarm ? null : after };
  if (was?.doubtFrom !== undefined) belief.hard.doubtFrom = was.doubtFrom;
  belief.overdueAt = lockout.alarm ? null : overdueAt;
  if (!was) tell(moment, 'latched', lockout.start, certainty === 'certain');
}

/**
 * The alarm closed for a lockout that was only counted, or a retry only overdue, until now. The alarm tells when an
 * overdue retry was really refused: the delay was longer than recorded.
 */
export function confirm(moment: Moment, alarm: Span): void {
  const { belief } = moment;
  const { hard } = belief;
  if (!hard || hard.alarm) return;
  const start = hard.because === 'refused-retry' ? alarm : hard.start;
  if (hard.after) moment.out.event(softBefore(moment, hard.after, start));
  latch(moment, { start, reason: hard.reason, because: hard.because, alarm });
}

/** The soft lockout that a hard one followed. */
export const softBefore = (moment: Moment, soft: Lockout, end: Span) =>
  lockoutEvent(moment, 'soft-lockout', soft, doubtful(end, soft.doubtFrom));

/** The alarm closed, or the retry is overdue, with a soft lockout standing or stops in the call. */
export function refuseRetry(moment: Moment, at: Span, alarm: Span | null): void {
  const { soft, call, undecidedStop } = moment.belief;
  if (undecidedStop)
    return latch(moment, { start: undecidedStop, reason: REASON_PENDING, alarm, because: 'second-stop' });
  // that no start was refused before this stop is known where it is certain that only a soft lockout began with it
  if (soft && alarm && soft.reason.existence !== 'certain' && isAtOnce(moment, soft.start, alarm))
    return latchAtOnce(moment, soft, alarm);
  const stop = call?.stops.at(-1);
  if (!soft && !stop) return latchAlone(moment, at, alarm);
  const latching = soft ? null : latchingStop(moment, stop!.span, at);
  const because = latching ? 'second-stop' : 'refused-retry';
  const counted = !latching || latching.latest === stop?.span.latest;
  const told = soft?.reason ?? lastReason(counted ? stop : undefined);
  // a stop of this call that wasn't seen may have had another cause
  const reason = call?.unexplained ? { ...told, certainty: least(told.certainty, 'probable') } : told;
  // with no alarm it can't be told whether the last stop latched or the retry after it was refused
  const either = alarm || soft ? at : { earliest: stop!.span.earliest, latest: at.latest };
  latch(moment, { start: latching ?? either, reason, alarm, because });
}

/** The stop that latched, the last of the call or one that the alarm moved with; null: it was the retry after it. */
function latchingStop(moment: Moment, counted: Span, at: Span): Span | null {
  const { belief } = moment;
  const last = belief.lastStop?.span ?? counted;
  return [last, counted].find((stop) => isAtOnce(moment, stop, at)) ?? null;
}

function latchAlone(moment: Moment, at: Span, alarm: Span | null): void {
  const isHigh = valueBefore(moment.belief.tracks.high, at.earliest) === 1;
  const reason = isHigh ? refusedByHigh(moment, at) : lastReason(undefined);
  latch(moment, { start: at, reason, alarm, because: 'alarm-alone' });
}

/** No start was seen to be refused, but the switch that refuses them is open (handbook 2.2 rules 3 and 8). */
const refusedByHigh = (moment: Moment, at: Span): Reason => ({
  ...REASON_PENDING,
  cause: 'high-pressure',
  certainty: 'probable',
  evidence: [saw(moment, 'high', at.latest, 1, 'the high-pressure switch was open')],
  pending: [],
});

/**
 * The alarm closed with what looked like the first stop of its call: a start had been refused before, unseen (handbook
 * 2.2 rule 3), so that this one latched and there is no soft lockout.
 */
function latchAtOnce(moment: Moment, { start, reason }: Lockout, alarm: Span): void {
  moment.belief.soft = null;
  tell(moment, 'free', start);
  latch(moment, { start, reason, alarm, because: 'second-stop' });
}

const REASON_PENDING: Reason = {
  cause: 'unknown',
  certainty: 'possible',
  existence: 'probable',
  candidates: [],
  evidence: [],
  pending: ['cause'],
};

const lastReason = (stop: CountedStop | undefined): Reason => ({
  ...REASON_PENDING,
  cause: stop?.cause ?? 'unknown',
  certainty: stop?.certainty ?? 'possible',
  pending: [],
});

/** The soft lockout is over: the retry, the hard lockout, or the end of the call or of power. */
export function endSoft(moment: Moment, at: Span): void {
  const { soft } = moment.belief;
  if (!soft) return;
  const end = doubtful(at, soft.doubtFrom);
  moment.belief.soft = null;
  moment.belief.overdueAt = null;
  moment.out.event(lockoutEvent(moment, 'soft-lockout', soft, end));
  tell(moment, 'free', end);
}

/**
 * The end of call or power, where the retry may have been refused unseen before it (a silent alarm circuit): somewhere
 * between the two.
 */
export function endSoftAtBreak(moment: Moment, at: Span): void {
  const { soft, brackets } = moment.belief;
  if (!soft) return;
  const { tolerance, settingError } = moment.wiring.protection;
  const planned = dueAfter(soft.start, offDelayOf(moment.wiring), tolerance).earliest - seconds(settingError);
  const seen = brackets.offDelay && dueAfter(soft.start, seconds(brackets.offDelay.seconds[0]), tolerance);
  const due = Math.min(planned, seen?.earliest ?? planned);
  endSoft(moment, { earliest: Math.min(at.earliest, Math.max(due, soft.start.latest)), latest: at.latest });
}

/**
 * The retry ends the soft lockout. Where the call is polled, a break of it (or of power, which it is fed from) between two
 * samples may have ended it before: only a restart that came when the retry was due speaks against that.
 */
export function endAtStart(moment: Moment, { start }: Lockout, at: Span): Span {
  const earliest = isRetryOnTime(moment, start, at) ? at.earliest : start.earliest;
  return { earliest: Math.min(earliest, at.earliest), latest: at.latest };
}

function isRetryOnTime({ belief, wiring }: Moment, stop: Span, at: Span): boolean {
  if (!wiring.byRole.call || wiring.byRole.call.onChange) return true;
  const { offDelay, tolerance, settingError } = wiring.protection;
  const seen = belief.brackets.offDelay;
  const gap = elapsed(stop, at);
  const from = offDelay.value * (1 - tolerance) - settingError;
  const to = offDelay.value * (1 + tolerance) + settingError;
  const asRecorded = offDelay.known !== 'assumed' && gap[0] <= to && gap[1] >= from;
  // this gap has been taken into the bracket already: it is as one before it was
  return asRecorded || (!!seen && seen.gaps > 1 && gap[0] <= seen.seconds[1] && gap[1] >= seen.seconds[0]);
}

export function endHold(moment: Moment, at: Span): void {
  const { hold } = moment.belief;
  if (!hold) return;
  const end = doubtful(at, hold.doubtFrom);
  moment.belief.hold = null;
  moment.belief.overdueAt = null;
  moment.out.event(lockoutEvent(moment, 'undervoltage-hold', hold, end));
  tell(moment, 'free', end);
}

/** The hard lockout is over: the call or control power was broken, which of the two where it can be told. */
export function endHard(
  moment: Moment,
  at: Span,
  by: 'call-broken' | 'power-broken' | null,
  sure: boolean,
): void {
  const { belief } = moment;
  const { hard } = belief;
  if (!hard) return;
  const end = doubtful(endByAlarm(moment, hard, at, by), hard.doubtFrom);
  const known = hard.doubtFrom === undefined;
  belief.hard = null;
  belief.overdueAt = null;
  // with no alarm a longer delay than recorded may have been waited for, until it ended
  const refused = { earliest: hard.start.earliest, latest: Math.max(hard.start.latest, end.latest) };
  if (hard.after) moment.out.event(softBefore(moment, hard.after, refused));
  moment.out.event(hardEvent(moment, hard, end));
  tell(moment, 'released', end);
  reset(moment, end, by ?? 'call-broken', by && known ? (sure ? 'certain' : 'probable') : 'possible', hard);
}

/** What a lockout is published as; `end` null while it lasts. */
export function lockoutEvent(moment: Moment, kind: EventKind, lockout: Lockout, end: Span | null) {
  const { start, reason } = lockout;
  const measures: Record<string, Measure> = end ? { offSeconds: elapsed(start, end) } : {};
  return draft(
    moment,
    {
      kind,
      cause: kind === 'undervoltage-hold' ? null : reason.cause,
      start,
      end,
      certainty: reason.existence,
      causeCertainty: kind === 'undervoltage-hold' ? null : reason.certainty,
      pending: reason.pending,
      measures,
      candidates: reason.candidates,
      evidence: reason.evidence,
    },
    lockout,
  );
}

export function hardEvent(moment: Moment, hard: HardLockout, end: Span | null) {
  const event = lockoutEvent(moment, 'hard-lockout', hard, end);
  const alarm: Evidence[] = hard.alarm
    ? [saw(moment, 'alarm', hard.alarm.latest, 1, 'the alarm contact closed')]
    : [];
  return {
    ...event,
    // it latched, so undervoltage is excluded (handbook 4 rule 4)
    cause: hard.reason.cause === 'undervoltage' ? ('unknown' as const) : event.cause,
    certainty: hard.tentative ? least(hard.certainty, 'probable') : hard.certainty,
    measures: { ...event.measures, stopsInCall: hard.stopsInCall },
    evidence: [...event.evidence, ...alarm],
  };
}
