import type { Span } from '../../base/span.ts';
import { seconds, type Instant } from '../../base/instant.ts';
import { edgesIn, sinceOf, valueBefore, valueBy, type Edge } from '../track.ts';
import { confirm, endHard, refuseRetry } from './lockout.ts';
import { retryDue } from './retry-due.ts';
import { doubtful, draft, saw, type Moment } from './moment.ts';
import type { Fault } from './belief.ts';
import { ALARM_LAG, type Wiring } from './wiring.ts';

/** The alarm contact: hard lockouts and faults of the alarm circuit (handbook 4 rules 4 and 5). */
export function alarmChanged(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  if (edge.to === null) {
    if (belief.alarmFault) belief.alarmFault.doubtFrom ??= edge.earliest;
    return;
  }
  const at = sinceOf(belief.tracks.alarm, edge);
  const hasMoved = edge.from !== null || (belief.alarmFault?.cause === 'silent') === (edge.to === 1);
  if (hasMoved && isLateAlarm(moment, edge)) belief.alarmFault = null;
  if (hasMoved) endFault(moment, at);
  if (edge.to === 1) alarmOn(moment, at);
  else if (edge.from === 1 || belief.hard) alarmOff(moment, at);
}

/** handbook 2.1: 30 s can be set */
const shortestOffDelay = (wiring: Wiring): number => {
  const { offDelay, tolerance, settingError } = wiring.protection;
  const planned = offDelay.value * (1 - tolerance) - settingError;
  return seconds(offDelay.known === 'assumed' ? 30 : planned);
};

/** The alarm of a retry that was thought overdue: the delay is longer than recorded, and its circuit is well. */
const isLateAlarm = ({ belief }: Moment, { to }: Edge): boolean =>
  to === 1 &&
  belief.alarmFault?.cause === 'silent' &&
  belief.hard?.because === 'refused-retry' &&
  !belief.hard.alarm;

function alarmOn(moment: Moment, at: Span): void {
  const { belief } = moment;
  // one that is heard of again after a silence has not moved
  if (belief.alarmFault?.cause === 'unexplained' || isPowerLoss(moment, at)) return;
  if (belief.hard) return confirm(moment, at);
  if (stopIsComing(moment, at)) {
    belief.alarmAhead = at;
    return;
  }
  const by = at.latest + ALARM_LAG;
  // what the alarm shows by itself is told at once; whether the output went with it isn't known yet
  if (moment.tentative && moment.frontier < by) return refuseRetry(moment, at, at);
  const fault = whyNoLockout(moment, at, by);
  if (!fault) return refuseRetry(moment, at, at);
  if (isShared(moment)) return;
  raiseFault(moment, 'unexplained', at, fault.says, fault.certainty);
}

/** One contact for several units: it proves one of these. */
const isShared = ({ wiring }: Moment): boolean => (wiring.byRole.alarm?.point.of.length ?? 0) > 1;

/** What shows that the alarm is none of this unit's lockouts (handbook 4 rules 4 and 5); null: it may be one. */
function whyNoLockout(
  moment: Moment,
  at: Span,
  by: Instant,
): { readonly says: string; readonly certainty: Fault['certainty'] } | null {
  const { belief } = moment;
  if (belief.run && valueBy(belief.tracks.output, by) === 1)
    return { says: 'the alarm contact closed while the output was on', certainty: 'certain' };
  if (isCallGone(moment, by))
    return { says: 'the alarm contact closed with no cooling call', certainty: 'probable' };
  if (isStopMissing(moment, at))
    return { says: 'the alarm contact closed with no protective stop in this call', certainty: 'probable' };
  return null;
}

/** No lockout outlasts its call; the alarm of one that did go with its call has gone too. */
function isCallGone({ belief, wiring }: Moment, by: Instant): boolean {
  const wire = wiring.byRole.call;
  if (!wire || wire.point.sense === 'upstream') return false;
  return valueBy(belief.tracks.call, by) === 0 && valueBy(belief.tracks.alarm, by) === 1;
}

/** Rule 5: a run of this call was seen, its protective stops would have been, and there was none. */
function isStopMissing({ belief, wiring }: Moment, at: Span): boolean {
  const { call, lastStop, soft, undecidedStop, tracks } = belief;
  const wire = wiring.byRole.call;
  if (!wire?.onChange || wire.point.sense === 'upstream' || !wiring.byRole.output?.onChange) return false;
  if (!call?.since || call.stops.length > 0 || soft || undecidedStop) return false;
  if (valueBefore(tracks.high, at.earliest) === 1 || lastStop?.cause === 'unknown') return false;
  const ran = !!lastStop && lastStop.span.earliest >= call.since.earliest;
  // a start that was refused unseen latches at its retry, and no sooner
  return ran || at.latest < call.since.earliest + shortestOffDelay(wiring);
}

/** An alarm relay that is released on alarm is released by a power loss too. */
function isPowerLoss(moment: Moment, at: Span): boolean {
  if (moment.wiring.byRole.alarm?.point.alarmOn !== 'released') return false;
  const { power } = moment.belief.tracks;
  return (
    edgesIn(power, at.earliest, at.latest).some(({ to }) => to === 0) || valueBefore(power, at.earliest) === 0
  );
}

/** Has the output gone off with the alarm, in an edge that is decided after it? */
const stopIsComing = ({ belief }: Moment, at: Span): boolean =>
  belief.queue.some(
    ({ role, edge }) => role === 'output' && edge.to === 0 && edge.earliest <= at.latest + ALARM_LAG,
  );

function alarmOff(moment: Moment, at: Span): void {
  const { belief, wiring } = moment;
  belief.alarmAhead = null;
  if (!belief.hard?.alarm) return;
  // the alarm goes with what broke the lockout: a call or power that went later is another matter
  const broken = (role: 'call' | 'power') =>
    edgesIn(belief.tracks[role], at.earliest - ALARM_LAG, at.latest).some(
      (edge) => edge.to === 0 && (edge.earliest < at.latest || edge.latest === at.latest),
    );
  if (broken('call') || broken('power')) return;
  const callKept = wiring.byRole.call?.onChange && valueBefore(belief.tracks.call, at.earliest) === 1;
  const powerKept = wiring.byRole.power?.onChange && valueBefore(belief.tracks.power, at.earliest) === 1;
  endHard(moment, at, callKept ? 'power-broken' : powerKept ? 'call-broken' : null, false);
  if (!belief.call) return;
  // a contact that several units share may have told of another one's lockout, and this one's stops still count
  if (isShared(moment)) belief.call.unexplained = true;
  // whatever broke it, unseen, the stops before it count no more
  else belief.call = { since: at, stops: [] };
}

/**
 * A restart that was due hasn't come. With the call present and healthy voltage the control has latched, and where the
 * alarm contact hasn't moved its circuit is silent (rules 4 and 5).
 */
export function retryOverdue(moment: Moment, at: Instant): void {
  const { belief, wiring } = moment;
  belief.overdueAt = null;
  const { soft, hard } = belief;
  const stop = soft?.start ?? belief.call?.stops.at(-1)?.span;
  if (!stop || !isHeldOff(moment, at)) return;
  if (!hard) refuseRetry(moment, retryDue(moment, stop), null);
  const alarm = wiring.byRole.alarm;
  // a call that is sensed upstream may have been held off on its way to the control
  if (!alarm || alarm.point.of.length > 1 || wiring.byRole.call?.point.sense === 'upstream') return;
  if (belief.alarmFault) return;
  if (valueBy(belief.tracks.alarm, at) !== 0) return;
  raiseFault(
    moment,
    'silent',
    belief.hard!.start,
    'the control latched and the alarm contact has not moved',
    'probable',
  );
}

/** Call present, output off, power there and healthy, all as far as wired, and the call seen. */
function isHeldOff({ belief }: Moment, at: Instant): boolean {
  const { call, output, power, healthy } = belief.tracks;
  return (
    valueBy(call, at) === 1 &&
    valueBy(output, at) === 0 &&
    valueBy(power, at) !== 0 &&
    valueBy(healthy, at) !== 0
  );
}

function raiseFault(
  moment: Moment,
  cause: 'silent' | 'unexplained',
  start: Span,
  says: string,
  certainty: Fault['certainty'],
): void {
  const value = cause === 'silent' ? 0 : 1;
  const evidence = [saw(moment, 'alarm', start.latest, value, says)];
  moment.belief.alarmFault = { start: { ...start }, cause, certainty, evidence, tentative: moment.tentative };
}

function endFault(moment: Moment, end: Span): void {
  const { alarmFault } = moment.belief;
  if (!alarmFault) return;
  moment.belief.alarmFault = null;
  moment.out.event(faultEvent(moment, alarmFault, doubtful(end, alarmFault.doubtFrom)));
}

export const faultEvent = (moment: Moment, fault: Fault, end: Span | null) =>
  draft(
    moment,
    {
      kind: 'alarm-circuit-fault',
      cause: fault.cause,
      start: fault.start,
      end,
      certainty: fault.certainty,
      causeCertainty: fault.certainty,
      pending: [],
      measures: {},
      candidates: [],
      evidence: fault.evidence,
    },
    fault,
  );
