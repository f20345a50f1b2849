import { inSeconds, seconds } from '../../base/instant.ts';
import { elapsed, later, type Bounds, type Span } from '../../base/span.ts';
import { edgeTo, heldSince, holds, valueBefore } from '../track.ts';
import type { Certainty, Evidence } from '../event.ts';
import { saw, type Moment } from './moment.ts';

/** What speaks for and against each cause of a protective stop (handbook 4 rule 2). */
export interface Judgement {
  readonly cause: 'high-pressure' | 'low-pressure' | 'undervoltage';
  /** `seen`: a contact or a voltage showed it */
  readonly fit: 'seen' | 'fits' | 'needs-coincidence' | 'excluded';
  /** of the cause, where it was seen */
  readonly certainty: Certainty;
  readonly because: string;
  readonly evidence: readonly Evidence[];
}

type Verdict = Omit<Judgement, 'cause' | 'certainty' | 'evidence'> &
  Partial<Pick<Judgement, 'certainty' | 'evidence'>>;
const judged = (cause: Judgement['cause'], verdict: Verdict): Judgement => ({
  cause,
  certainty: 'possible',
  evidence: [],
  ...verdict,
});

/** A pressure contact that had tripped by the end of the stop's window, and since when. */
function tripped(moment: Moment, role: 'high' | 'low', stop: Span): Span | null {
  const track = moment.belief.tracks[role];
  const during = edgeTo(track, 1, stop.earliest, stop.latest);
  if (during) return during;
  return valueBefore(track, stop.earliest) === 1 ? heldSince(track, stop.earliest) : null;
}

/**
 * Known through the stop. Behind a switch that the call feeds, an open reading means something only while the call is seen
 * to be there.
 */
function readable(moment: Moment, role: 'high' | 'low', stop: Span): boolean {
  const wire = moment.wiring.byRole[role];
  if (!wire || !isKnown(moment, role, stop)) return false;
  if (wire.point.sense === 'isolated') return true;
  return !!moment.wiring.byRole.call && holds(moment.belief.tracks.call, 1, stop.earliest, stop.latest);
}

/** Is it known from before the stop until after it? */
export function isKnown({ belief }: Moment, role: 'call' | 'high' | 'low' | 'healthy', stop: Span): boolean {
  const track = belief.tracks[role];
  return (
    valueBefore(track, stop.earliest) !== null && edgeTo(track, null, stop.earliest, stop.latest) === null
  );
}

/** Why a contact tells nothing. */
const unreadable = ({ wiring }: Moment, role: 'high' | 'low'): string =>
  wiring.byRole[role] ? 'what its switch did is not known' : 'its switch is not wired';

/** A high-pressure switch may close again within seconds: a longer poll can miss it [from memory]. */
const QUICK_RECLOSE = seconds(2);
/** The high-pressure switch stops the compressor at once; a longer lead means that it had tripped before [from memory]. */
const AT_ONCE = seconds(2);

export function judgeHigh(moment: Moment, stop: Span): Judgement {
  const cause = 'high-pressure';
  if (!readable(moment, 'high', stop)) return highByTime(moment, stop);
  const wire = moment.wiring.byRole.high!;
  const since = tripped(moment, 'high', stop);
  if (since && stop.earliest - since.latest <= AT_ONCE) {
    const certainty = wire.onChange ? 'certain' : 'probable';
    const evidence = [saw(moment, 'high', since.latest, 1, 'the high-pressure switch opened')];
    return judged(cause, {
      fit: 'seen',
      certainty,
      because: 'its switch opened when the output went off',
      evidence,
    });
  }
  const missed = !wire.onChange && wire.period > QUICK_RECLOSE;
  return judged(cause, {
    fit: missed ? 'needs-coincidence' : 'excluded',
    because: missed
      ? `its switch would have had to open and close between two samples ${inSeconds(wire.period)} s apart`
      : 'its switch stayed closed',
  });
}

function highByTime(moment: Moment, stop: Span): Judgement {
  const retry = isAtBypassAfterRetry(moment, stop);
  return judged('high-pressure', {
    fit: retry ? 'needs-coincidence' : 'fits',
    because: retry
      ? 'it would have had to trip just when the low-pressure bypass ran out'
      : `${unreadable(moment, 'high')}${ranFor(moment, stop)}`,
  });
}

export function judgeLow(moment: Moment, stop: Span): Judgement {
  const cause = 'low-pressure';
  const bypass = moment.wiring.protection.lowPressureBypass;
  const shortest = bypass.value * (1 - moment.wiring.protection.tolerance);
  if (readable(moment, 'low', stop)) return lowByContact(moment, stop, shortest);
  const ran = runSeconds(moment, stop);
  if (ran && ran[1] < shortest)
    return judged(cause, {
      fit: 'excluded',
      because: `it can't come before ${bypass.value} s (${bypass.known} bypass)${ranFor(moment, stop)}`,
    });
  return judged(cause, {
    fit: 'fits',
    because: isAtBypassAfterRetry(moment, stop)
      ? `it stopped when the ${bypass.known} bypass of ${bypass.value} s ran out after the retry`
      : unreadable(moment, 'low'),
  });
}

const bypassIsAssumed = ({ wiring }: Moment): boolean =>
  wiring.protection.lowPressureBypass.known === 'assumed';

function lowByContact(moment: Moment, stop: Span, shortest: number): Judgement {
  const { belief, wiring } = moment;
  const since = tripped(moment, 'low', stop);
  const opened = since && belief.run ? later(since, belief.run.start) : since;
  if (!opened || elapsed(opened, stop)[1] < shortest)
    return judged('low-pressure', {
      // an assumed bypass may really be shorter; a recorded one would have to be wrong
      fit: !since ? 'excluded' : bypassIsAssumed(moment) ? 'fits' : 'needs-coincidence',
      because: since
        ? `its switch was open, but not for the ${bypassIsAssumed(moment) ? 'assumed' : 'recorded'} bypass`
        : 'its switch stayed closed',
    });
  const darkened =
    wiring.byRole.low!.point.sense === 'loop' && !!edgeTo(belief.tracks.high, 1, stop.earliest, stop.latest);
  const alone =
    judgeHigh(moment, stop).fit === 'excluded' &&
    judgeUndervoltage(moment, stop).fit === 'excluded' &&
    !darkened;
  const open = elapsed(opened, stop);
  return judged('low-pressure', {
    fit: 'seen',
    certainty: alone ? 'certain' : 'probable',
    because: `its switch had been open for ${open[0].toFixed(0)}–${open[1].toFixed(0)} s`,
    evidence: [saw(moment, 'low', since!.latest, 1, 'the low-pressure switch was open')],
  });
}

export function judgeUndervoltage(moment: Moment, stop: Span): Judgement {
  const cause = 'undervoltage';
  const { undervoltageTrip: trip } = moment.wiring.protection;
  if (trip.value === null)
    return judged(cause, { fit: 'excluded', because: 'this control has no undervoltage trip' });
  const wire = moment.wiring.byRole.healthy;
  if (!wire) return judged(cause, { fit: 'needs-coincidence', because: 'control voltage is not wired' });
  const track = moment.belief.tracks.healthy;
  const low = edgeTo(track, 0, stop.earliest, stop.latest);
  if (low || valueBefore(track, stop.earliest) === 0) return undervoltageSeen(moment, stop, low);
  if (!isKnown(moment, 'healthy', stop))
    return judged(cause, { fit: 'needs-coincidence', because: 'control voltage is not known' });
  if (wire.onChange && holds(track, 1, stop.earliest, stop.latest))
    return judged(cause, { fit: 'excluded', because: `control voltage stayed above ${trip.value} V` });
  return judged(cause, {
    fit: 'needs-coincidence',
    because: `control voltage would have had to dip between two samples ${inSeconds(wire.period)} s apart`,
  });
}

function undervoltageSeen(moment: Moment, stop: Span, low: Span | null): Judgement {
  const { run } = moment.belief;
  const { undervoltageTrip: trip, undervoltageStartGrace: grace } = moment.wiring.protection;
  if (run && grace.value > 0 && elapsed(run.start, stop)[1] < grace.value)
    return judged('undervoltage', { fit: 'excluded', because: `within the start grace of ${grace.value} s` });
  return judged('undervoltage', {
    fit: 'seen',
    certainty: isOnlyUndervoltage(moment, stop, low) ? 'certain' : 'probable',
    because: `control voltage was below ${trip.value} V`,
    evidence: [
      saw(moment, 'healthy', low?.latest ?? stop.latest, null, `control voltage was below ${trip.value} V`),
    ],
  });
}

/** Both pressure switches seen closed and the dip seen on the stop, or through it: nothing else is left, whatever the trip. */
function isOnlyUndervoltage(moment: Moment, stop: Span, low: Span | null): boolean {
  const { healthy } = moment.belief.tracks;
  const narrow = low
    ? low.latest - low.earliest <= seconds(2)
    : holds(healthy, 0, stop.earliest, stop.latest);
  const clear = (role: 'high' | 'low') => readable(moment, role, stop) && !tripped(moment, role, stop);
  return narrow && moment.wiring.byRole.high?.onChange === true && clear('high') && clear('low');
}

/** How long the run had lasted, seconds [low, high]; null where its start wasn't seen. */
function runSeconds(moment: Moment, stop: Span): Bounds | null {
  const { run } = moment.belief;
  return run && run.startSeen && run.broken === null ? elapsed(run.start, stop) : null;
}

function ranFor(moment: Moment, stop: Span): string {
  const ran = runSeconds(moment, stop);
  return ran ? `; stopped ${ran[1].toFixed(0)} s after its start` : '';
}

/** After a retry, a stop just when the bypass runs out points to low pressure (handbook 4 rule 2). */
function isAtBypassAfterRetry(moment: Moment, stop: Span): boolean {
  const ran = runSeconds(moment, stop);
  if (!ran || !moment.belief.run!.retry) return false;
  const { lowPressureBypass, tolerance } = moment.wiring.protection;
  const from = lowPressureBypass.value * (1 - tolerance);
  const to = lowPressureBypass.value * (1 + tolerance);
  return ran[0] <= to && ran[1] >= from;
}
