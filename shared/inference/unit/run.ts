import { inSeconds, type Instant } from '../../base/instant.ts';
import { elapsed, type Span } from '../../base/span.ts';
import type { EdgeDetail } from '../edge.ts';
import { edgeTo, holds, type Edge } from '../track.ts';
import type { Measure } from '../event.ts';
import type { Belief, Reason, Run } from './belief.ts';
import { judgeStart } from './delay.ts';
import { endAtStart, endHard, endHold, endSoft, hold, latch, protect, softBefore } from './lockout.ts';
import { doubt, doubtful, draft, offDelayOf, powerUpDelayOf, saw, tell, type Moment } from './moment.ts';
import { noteGap } from './settings-seen.ts';
import { reasonOfStop } from './stop.ts';

/** Starts and stops of the compressor output, and what they end and begin (handbook 4 rules 1 to 4). */
export function outputChanged(moment: Moment, edge: Edge): void {
  if (edge.to === null) return outputLost(moment, edge);
  if (edge.from === null) tell(moment, 'known', edge, true, { of: 'run', now: edge.to });
  if (edge.to === 1) started(moment, edge);
  else stopped(moment, edge);
}

function outputLost(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  belief.outputLost = edge.earliest;
  if (belief.call) belief.call.unexplained = true;
  doubt(moment, edge.earliest);
  tell(moment, 'unknown', edge, true, { of: 'run' });
}

function started(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const seen = edge.from === 0;
  const lost = belief.outputLost;
  belief.outputLost = null;
  if (belief.run) {
    belief.run.broken ??= lost ?? edge.earliest;
    return;
  }
  const at: Span = seen ? span(edge) : { earliest: lost ?? edge.earliest, latest: edge.latest };
  const afterPower =
    !!belief.powerBack && (!belief.lastStop || belief.powerBack.latest >= belief.lastStop.span.earliest);
  const offSeconds = belief.lastStop ? elapsed(belief.lastStop.span, at) : null;
  const retry = belief.soft !== null || !!belief.hard?.after;
  if (seen) {
    judgeStart(moment, at);
    noteGap(moment, at);
  }
  if (belief.soft) endSoft(moment, endAtStart(moment, belief.soft, at));
  endHold(moment, at);
  // nothing showed what broke the lockout: it was somewhere before this start
  if (belief.hard?.alarm)
    endHard(moment, { earliest: belief.hard.alarm.latest, latest: at.latest }, null, false);
  else if (belief.hard) {
    // a retry that was only overdue has come after all
    const { after } = belief.hard;
    if (after) moment.out.event(softBefore(moment, after, endAtStart(moment, after, at)));
    if (belief.hard.because === 'refused-retry' && belief.alarmFault?.cause === 'silent')
      belief.alarmFault = null;
    tell(moment, 'released', at);
  }
  belief.hard = null;
  belief.overdueAt = null;
  belief.undecidedStop = null;
  belief.run = {
    start: at,
    startSeen: seen || lost !== null,
    retry,
    afterPower,
    offSeconds,
    broken: null,
    tentative: moment.tentative,
  };
  if (seen) tell(moment, 'start', at, true, startDetail(moment, at, afterPower));
}

/** The wait that a start ended, seconds, and what set it off (edge.ts). */
function startDetail(moment: Moment, at: Span, afterPower: boolean): EdgeDetail {
  const { belief, wiring } = moment;
  const planned = afterPower ? powerUpDelayOf(wiring) : belief.lastStop ? offDelayOf(wiring) : null;
  const called = edgeTo(belief.tracks.call, 1, at.earliest, at.latest) !== null;
  const waited = !called && holds(belief.tracks.call, 1, at.earliest, at.latest);
  return {
    planned: planned === null ? null : [inSeconds(planned), inSeconds(planned)],
    by: called ? 'call' : waited ? 'wait' : 'unknown',
  };
}

const span = ({ earliest, latest }: Span): Span => ({ earliest, latest });

function stopped(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const lost: Instant | null = belief.outputLost;
  belief.outputLost = null;
  const { run } = belief;
  if (edge.from === null && !run) return runUnseen(belief, edge);
  const stop: Span =
    edge.from === null ? { earliest: lost ?? edge.earliest, latest: edge.latest } : span(edge);
  const reason = edge.from === null ? NOT_SEEN : reasonOfStop(moment, stop);
  if (run?.startSeen) moment.out.event(runEvent(moment, run, stop, reason));
  belief.lastRun = run?.startSeen && run.broken === null ? run.start : null;
  belief.lastRan = run?.startSeen && run.broken === null ? elapsed(run.start, stop) : null;
  belief.run = null;
  belief.lastStop = { span: stop, cause: reason.cause };
  belief.undecidedStop = reason.pending.length > 0 ? stop : null;
  if (edge.from === 1) tell(moment, 'stop', stop);
  act(moment, stop, reason);
}

/** The output is known again, and off: a run may have come and gone unseen, until now. */
function runUnseen(belief: Belief, { latest }: Span): void {
  const { lastStop } = belief;
  if (lastStop) belief.lastStop = { span: { earliest: lastStop.span.earliest, latest }, cause: 'unknown' };
}

const NOT_SEEN: Reason = {
  cause: 'unknown',
  certainty: 'possible',
  existence: 'possible',
  candidates: [],
  evidence: [],
  pending: [],
};

/** What follows from a stop, by its reason. */
function act(moment: Moment, stop: Span, reason: Reason): void {
  const { belief } = moment;
  switch (reason.cause) {
    case 'high-pressure':
    case 'low-pressure':
    case 'pressure':
      return protect(moment, stop, reason);
    case 'undervoltage':
      hold(moment, stop, reason);
      if (belief.call && reason.certainty !== 'certain') belief.call.unexplained = true;
      break;
    case 'unknown':
      if (belief.call) belief.call.unexplained = true;
      break;
    default:
      break;
  }
  if (!belief.alarmAhead || reason.cause === 'call-ended' || reason.cause === 'power-lost') return;
  latch(moment, {
    start: stop,
    reason: { ...reason, cause: 'unknown' },
    alarm: belief.alarmAhead,
    because: 'second-stop',
  });
  belief.alarmAhead = null;
}

/** A run; `end` null while it lasts. */
export function runEvent(moment: Moment, run: Run, end: Span | null, reason: Reason | null) {
  const measures: Record<string, Measure> = {};
  const over = end && doubtful(end, run.broken);
  if (over) measures['runSeconds'] = elapsed(run.start, over);
  if (run.offSeconds) measures['offSeconds'] = run.offSeconds;
  const causeCertainty = reason && (run.broken === null ? reason.certainty : 'possible');
  return draft(
    moment,
    {
      kind: 'compressor-run',
      cause: reason?.cause ?? null,
      start: run.start,
      end: over,
      certainty: 'certain',
      causeCertainty,
      pending: reason?.pending ?? [],
      measures,
      candidates: reason?.candidates ?? [],
      evidence: [saw(moment, 'output', run.start.latest, 1, 'output came on'), ...(reason?.evidence ?? [])],
    },
    run,
  );
}
