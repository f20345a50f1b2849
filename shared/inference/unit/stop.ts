import { inSeconds, seconds } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { edgeTo, heldSince, holds, valueBefore, type Track } from '../track.ts';
import type { Candidate, Certainty, Evidence } from '../event.ts';
import type { Reason } from './belief.ts';
import { isKnown, judgeHigh, judgeLow, judgeUndervoltage, type Judgement } from './candidates.ts';
import { least, saw, type Moment } from './moment.ts';

/**
 * Why did the compressor output go off within `stop`? Handbook 4 rule 2, in its order: power first, since the call is fed
 * from control power; then the call; then what the control does by itself.
 */
export function reasonOfStop(moment: Moment, stop: Span): Reason {
  if (moment.tentative && moment.frontier < stop.latest) return NOT_YET;
  return powerLost(moment, stop) ?? callGone(moment, stop) ?? stoppedByItself(moment, stop);
}

const NOT_YET: Reason = {
  cause: 'unknown',
  certainty: 'possible',
  existence: 'possible',
  candidates: [],
  evidence: [],
  pending: ['cause'],
};

/** An edge this narrow leaves no room for a second happening without a coincidence [from memory]. */
const NARROW = seconds(2);

function powerLost(moment: Moment, stop: Span): Reason | null {
  const wire = moment.wiring.byRole.power;
  const track = moment.belief.tracks.power;
  if (!wire) return null;
  const gone = edgeTo(track, 0, stop.earliest, stop.latest);
  if (!gone && valueBefore(track, stop.earliest) !== 0) return null;
  const narrow = !gone || gone.latest - gone.earliest <= NARROW;
  const t = gone?.latest ?? stop.latest;
  return {
    cause: 'power-lost',
    certainty: narrow ? 'certain' : 'probable',
    existence: 'certain',
    candidates: narrow
      ? []
      : [
          { cause: 'power-lost', fit: 'fits', because: 'control voltage was gone at its next sample' },
          {
            cause: 'call-ended',
            fit: 'needs-coincidence',
            because: `the call would have had to end within ${inSeconds(wire.period)} s before a power loss`,
          },
        ],
    evidence: [saw(moment, 'power', t, 0, 'control voltage was below 5 V')],
    pending: [],
  };
}

function callGone(moment: Moment, stop: Span): Reason | null {
  const wire = moment.wiring.byRole.call;
  const track = moment.belief.tracks.call;
  if (!wire || wire.point.sense === 'upstream') return null;
  const gone = callEdge(track, 0, stop);
  if (!gone && (valueBefore(track, stop.earliest) !== 0 || callEdge(track, 1, stop))) return null;
  const { certainty, candidate } = isCallEnd(moment, stop, gone);
  return {
    cause: 'call-ended',
    certainty,
    existence: 'certain',
    candidates: candidate
      ? [
          { cause: 'call-ended', fit: 'fits', because: 'the call was gone when the output went off' },
          candidate,
        ]
      : [],
    evidence: [saw(moment, 'call', gone?.latest ?? stop.earliest, 0, 'the cooling call was gone')],
    pending: [],
  };
}

/** The call's edge to a value within the stop's window; one that can only have come once the output was off isn't. */
function callEdge(track: Track, value: 0 | 1, stop: Span): Span | null {
  const edge = edgeTo(track, value, stop.earliest, stop.latest);
  return edge && (edge.earliest < stop.latest || edge.latest === stop.latest) ? edge : null;
}

/** Did the call end by itself, or could power or a protective stop have come first? */
function isCallEnd(
  moment: Moment,
  stop: Span,
  gone: Span | null,
): { certainty: Certainty; candidate: Candidate | null } {
  const { wiring, belief } = moment;
  if (gone && gone.latest - gone.earliest > NARROW)
    return probably('unknown', 'the output could have gone off first, within one polling period of the call');
  if (!gone && !wasCalledIn(moment, stop))
    return probably(
      'unknown',
      'no cooling call was seen in this run: its contact may not show what it should',
    );
  // only a call that was gone before the output leaves no room for a protective stop in the same moment
  const judged = [judgeHigh, judgeUndervoltage, judgeLow].map((judge) => judge(moment, stop));
  const first = judged.find(({ fit }) => fit === 'seen') ?? judged.find(isPressureOpen);
  if (gone && first)
    return probably(
      first.cause,
      `${first.because}; it would have had to come in the same moment as the call`,
    );
  const power = wiring.byRole.power;
  if (!power)
    return probably('power-lost', 'control voltage is not wired, and a power loss drops the call too');
  // a thermostat that reboots stays away for minutes: only a power that is seen without a break excludes an outage
  if (!power.onChange || !holds(belief.tracks.power, 1, stop.earliest, stop.latest + wiring.lookAhead))
    return probably(
      'power-lost',
      power.onChange
        ? 'control voltage is not known through the stop'
        : `an outage shorter than the ${inSeconds(power.period)} s between two samples`,
    );
  return { certainty: 'certain', candidate: null };
}

/** Was the call seen in the run that ended with `stop`? A wire that came loose shows none, ever. */
function wasCalledIn({ belief }: Moment, stop: Span): boolean {
  const gone = heldSince(belief.tracks.call, stop.earliest);
  return !!gone && (belief.lastRun ? gone.latest >= belief.lastRun.earliest : gone.from === 1);
}

const isPressureOpen = ({ cause, fit }: Judgement): boolean => cause !== 'undervoltage' && fit === 'fits';

const probably = (cause: Candidate['cause'], because: string) => ({
  certainty: 'probable' as const,
  candidate: { cause, fit: 'needs-coincidence' as const, because },
});

/** There before the stop's window, or come within it (no output starts without a call), and not gone. */
const isCalledThrough = (track: Track, stop: Span): boolean =>
  callEdge(track, 0, stop) === null &&
  (valueBefore(track, stop.earliest) === 1 || callEdge(track, 1, stop) !== null);

/** How sure it is that the call stayed while the output went off, and what else may have been; null: nothing. */
function callStayed(
  moment: Moment,
  stop: Span,
): { existence: Certainty; evidence: Evidence[]; ended: Candidate | null } {
  const wire = moment.wiring.byRole.call;
  if (!wire) return { existence: 'possible', evidence: [], ended: UPSTREAM };
  if (!isKnown(moment, 'call', stop) || !isCalledThrough(moment.belief.tracks.call, stop))
    return { existence: 'possible', evidence: [], ended: MAY_HAVE_ENDED };
  const upstream = wire.point.sense === 'upstream';
  const says = upstream ? 'the call sensed upstream stayed' : 'the cooling call stayed';
  return {
    existence: upstream ? 'possible' : wire.onChange ? 'certain' : 'probable',
    evidence: [saw(moment, 'call', stop.latest, 1, says)],
    ended: upstream ? UPSTREAM : null,
  };
}

function stoppedByItself(moment: Moment, stop: Span): Reason {
  const call = callStayed(moment, stop);
  const evidence = [saw(moment, 'output', stop.latest, 0, 'output went off'), ...call.evidence];
  const high = judgeHigh(moment, stop);
  const low = judgeLow(moment, stop);
  const under = judgeUndervoltage(moment, stop);
  const judged = [high, low, under];
  const seen = judged.find((one) => one.fit === 'seen');
  const shown = (more: Candidate[] = []): Candidate[] => [
    ...judged.map(({ cause, fit, because }) => ({
      cause,
      fit: fit === 'seen' ? ('fits' as const) : fit,
      because,
    })),
    ...more,
  ];
  if (seen)
    return {
      cause: seen.cause,
      certainty: least(seen.certainty, call.existence),
      // were it a pressure switch after all, it would be a soft lockout and no hold
      existence: seen === under ? least(seen.certainty, call.existence) : call.existence,
      candidates: shown(call.ended ? [call.ended] : []),
      evidence: [...evidence, ...seen.evidence],
      pending: [],
    };
  if (call.ended) return { ...NOT_YET, candidates: shown([call.ended]), evidence, pending: [] };
  // a switch that is silent may yet tell that it stayed closed
  const silent = (['high', 'low'] as const).some(
    (role) => moment.wiring.byRole[role] && !isKnown(moment, role, stop),
  );
  const existence = silent ? least(call.existence, 'probable') : call.existence;
  return byElimination(high, low, under, { existence, evidence, candidates: shown() });
}

const MAY_HAVE_ENDED: Candidate = {
  cause: 'call-ended',
  fit: 'fits',
  because: 'the cooling call is not known through the stop',
};

const UPSTREAM: Candidate = {
  cause: 'call-ended',
  fit: 'fits',
  because:
    'something upstream of the protection control may have taken the call away; its own call terminal is not wired',
};

/** No contact tells: what is left? Time has already spoken through the judgements (handbook 4 rule 2). */
function byElimination(
  high: Judgement,
  low: Judgement,
  under: Judgement,
  found: Pick<Reason, 'existence' | 'evidence' | 'candidates'>,
): Reason {
  const existence = least(found.existence, under.fit === 'excluded' ? 'certain' : 'probable');
  const base = { ...found, existence, pending: [] };
  if (high.fit === 'fits' && low.fit === 'fits') return { ...base, cause: 'pressure', certainty: 'possible' };
  if (high.fit === 'fits')
    return { ...base, cause: 'high-pressure', certainty: least('probable', existence) };
  // its switch was open and nothing else is left: the bypass must be shorter than it is written down
  if (low.fit === 'fits' || (low.fit === 'needs-coincidence' && under.fit === 'excluded'))
    return { ...base, cause: 'low-pressure', certainty: least('probable', existence) };
  if (under.fit !== 'excluded')
    return { ...base, existence: 'possible', cause: 'undervoltage', certainty: 'possible' };
  return { ...base, existence: 'possible', cause: 'unknown', certainty: 'possible' };
}
