import type { Instant } from '../../base/instant.ts';
import { elapsed, type Span } from '../../base/span.ts';
import type { Edge } from '../track.ts';
import type { Certainty, Measure } from '../event.ts';
import type { Reason, Run } from './belief.ts';
import { judgeStart } from './delay.ts';
import { endHard, endHold, endSoft, latch, protect } from './lockout.ts';
import { draft, least, saw, tell, type Moment } from './moment.ts';
import { reasonOfStop } from './stop.ts';

/** Starts and stops of the compressor output, and what they end and begin (handbook 4 rules 1 to 4). */
export function outputChanged(moment: Moment, edge: Edge): void {
  if (edge.to === null) return outputLost(moment, edge);
  if (edge.from === null) outputKnownAgain(moment, edge);
  if (edge.to === 1) started(moment, edge);
  else stopped(moment, edge);
}

function outputLost({ belief, ...moment }: Moment, edge: Edge): void {
  belief.outputLost = edge.earliest;
  tell({ belief, ...moment }, 'unknown', edge);
}

function outputKnownAgain(moment: Moment, edge: Edge): void {
  tell(moment, 'known', edge);
}

function started(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const seen = edge.from === 0;
  const lost = belief.outputLost;
  belief.outputLost = null;
  if (belief.run) {
    belief.run.broken = true;
    return;
  }
  const at: Span = seen ? span(edge) : { earliest: lost ?? edge.earliest, latest: edge.latest };
  const afterPower =
    !!belief.powerBack && (!belief.lastStop || belief.powerBack.latest >= belief.lastStop.span.earliest);
  const offSeconds = belief.lastStop ? elapsed(belief.lastStop.span, at) : null;
  const retry = belief.soft !== null;
  if (seen) judgeStart(moment, at);
  endSoft(moment, at);
  endHold(moment, at);
  if (belief.hard?.alarm) endHard(moment, at, null, false);
  else if (belief.hard) tell(moment, 'released', at);
  belief.hard = null;
  belief.overdueAt = null;
  belief.undecidedStop = null;
  belief.run = { start: at, startSeen: seen || lost !== null, retry, afterPower, offSeconds, broken: false };
  tell(moment, 'start', at, seen, { afterPower: afterPower ? 1 : 0 });
}

const span = ({ earliest, latest }: Span): Span => ({ earliest, latest });

function stopped(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const lost: Instant | null = belief.outputLost;
  belief.outputLost = null;
  const { run } = belief;
  if (edge.from === null && !run) return;
  const stop: Span =
    edge.from === null ? { earliest: lost ?? edge.earliest, latest: edge.latest } : span(edge);
  const reason = edge.from === null ? NOT_SEEN : reasonOfStop(moment, stop);
  if (run?.startSeen) moment.out.event(runEvent(moment, run, stop, reason));
  belief.run = null;
  belief.lastStop = { span: stop, cause: reason.cause };
  belief.undecidedStop = reason.pending.length > 0 ? stop : null;
  tell(moment, 'stop', stop, edge.from === 1);
  act(moment, stop, reason);
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
      belief.hold = { start: stop, reason };
      tell(moment, 'held', stop, reason.existence === 'certain');
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
  if (end) measures['runSeconds'] = elapsed(run.start, end);
  if (run.offSeconds) measures['offSeconds'] = run.offSeconds;
  const certainty: Certainty = run.broken ? 'probable' : 'certain';
  return draft(moment, {
    kind: 'compressor-run',
    cause: reason?.cause ?? null,
    start: run.start,
    end,
    certainty: least(certainty, moment.tentative ? 'probable' : 'certain'),
    causeCertainty: reason?.certainty ?? null,
    pending: reason?.pending ?? [],
    measures,
    candidates: reason?.candidates ?? [],
    evidence: [saw(moment, 'output', run.start.latest, 1, 'output came on'), ...(reason?.evidence ?? [])],
  });
}
