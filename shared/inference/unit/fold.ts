import type { Instant } from '../../base/instant.ts';
import { GOOD } from '../../telemetry/sample.ts';
import { noteGateway } from '../members/gateway-silence.ts';
import type { Conclusion, Fold, FoldContext, Output } from '../fold.ts';
import { NEVER } from '../horizon.ts';
import { chainEnd, chainStart, closeChain, isHumming, isOverruled, lose, regain } from '../track.ts';
import { alarmChanged, faultEvent, retryOverdue } from './alarm.ts';
import { newBelief, type Belief, type Queued } from './belief.ts';
import { callChanged, powerChanged } from './call.ts';
import { conductorChanged, conductorEvent, conductorLasted } from './current.ts';
import { isTold, lastsAt, nowTold, type LastingName } from './lasting.ts';
import { levelOrOutputChanged, rangeEvent } from './voltage-range.ts';
import { closeGap, showGaps, tellGaps } from './gaps.ts';
import { hardEvent, lockoutEvent } from './lockout.ts';
import type { Moment } from './moment.ts';
import { outputChanged, runEvent } from './run.ts';
import { mismatchedEvent, recordChanged } from './settings-seen.ts';
import { judgeShadow, shadowDue, shadowEdge } from './shadow.ts';
import { enqueue, takeSample, tookCalm } from './sample.ts';
import { standingOf } from './standing.ts';
import { airChanged, endWeak, weakAt, weakEvent, weakLasted } from './weak-cooling.ts';
import { ROLES, wiringAt, type Role, type Wiring } from './wiring.ts';

/**
 * A unit's fold: what did its protection control do, and why? Samples become edges (track.ts); an edge is decided when
 * everything up to it and a fixed look-ahead beyond it is known, in the order of the edges' latest instants. Each rule has
 * its own file: runs (run.ts, stop.ts, candidates.ts), lockouts (lockout.ts), the call and power (call.ts), the alarm
 * contact (alarm.ts), short cycles (delay.ts), contactor and compressor (current.ts), air temperatures (weak-cooling.ts). It
 * must never act on what it only knows because later rows happen to have been taken.
 *
 * Its times are those of the gateway that its runs are read from. The edges of another gateway are widened by both clocks'
 * uncertainties as they enter their track (handbook 3), so that every comparison is.
 */
/** The last instants before other settings held, up to `frontier`: what lies there looks ahead as it did then. */
const changesBefore = ({ history }: FoldContext, frontier: Instant): Instant[] =>
  history.slice(1).flatMap(({ from }) => (from <= frontier ? [from - 1] : []));

/** Through when, at `at` at the latest, everything that it looks ahead for is known. */
const lookedAhead = (context: FoldContext, at: Instant, frontier: Instant): Instant =>
  Math.min(at, frontier - Math.max(1, lookAheadAt(context, at)));

export const unitFold: Fold<Belief> = {
  kind: 'unit',
  version: 16,
  start: () => newBelief(),

  take(belief, context, source, t, value, quality) {
    const wire = wiringAt(context, t)?.bySource[source];
    if (wire) takeSample(belief, wire, t, value, quality);
  },

  takeCalm(belief, context, source, t, value, quality) {
    const wire = wiringAt(context, t)?.bySource[source];
    return !!wire && tookCalm(belief, wire, t, value, quality);
  },

  silent(belief, context, source, at) {
    const { kind, device } = context.sources[source]!;
    if (kind === 'life') noteGateway(belief.gateways, device, at, false);
    const wire = wiringAt(context, at)?.bySource[source];
    if (!wire) return;
    for (const { role } of wire.roles) enqueue(belief, role, lose(belief.tracks[role], at));
    const { key } = context.sources[source]!;
    const seen = belief.seen[wire.signal];
    if (seen) seen.value = null;
    if (!wire.onChange && wire.point.device === context.subject.device) belief.gaps[key] = at;
  },

  resumed(belief, context, source, at) {
    const { kind, device } = context.sources[source]!;
    if (kind === 'life') noteGateway(belief.gateways, device, at, true);
    const wire = wiringAt(context, at)?.bySource[source];
    if (!wire) return;
    if (wire.onChange)
      for (const { role } of wire.roles) enqueue(belief, role, regain(belief.tracks[role], at));
    closeGap(belief, context.sources[source]!.key, at);
  },

  reconfigured(belief, context, at) {
    const was = wiringAt(context, at - 1);
    const now = wiringAt(context, at);
    if (JSON.stringify(was?.protection) !== JSON.stringify(now?.protection)) belief.recordChangedAt = at;
    for (const role of ROLES) {
      const before = was?.byRole[role];
      const after = now?.byRole[role];
      if (JSON.stringify(before) === JSON.stringify(after) && !isThresholdMoved(role, was, now)) continue;
      enqueue(belief, role, lose(belief.tracks[role], at));
      const raw = after?.onChange ? belief.seen[after.signal]?.raw : null;
      if (typeof raw === 'number') takeSample(belief, after!, at, raw, GOOD);
    }
  },

  waiting(belief, context) {
    return waitingFor(belief, context);
  },

  decidedThrough(belief, context, frontier) {
    const next = nextItem(belief);
    // what becomes unknown is unknown from the instant through which it was known
    const through = Math.max(
      ...[frontier, ...changesBefore(context, frontier)].map((at) => lookedAhead(context, at, frontier)),
    );
    // what waits in the unit's time is told to panel and space in its gateway's own, a clock's doubt earlier
    const doubt = wiringAt(context, frontier)?.doubt ?? 0;
    return Math.min(through, Math.min(next ?? NEVER, openChainFrom(belief)) - 1 - doubt);
  },

  /** that a point was silent leans on it and its gateway alone */
  leansOn: ({ kind, point }, { sources }) =>
    kind === 'telemetry-gap' ? sources.filter(({ key }) => key === point) : null,

  settle(belief, context, frontier, out) {
    tellGaps(belief, context, frontier, out);
    for (;;) {
      closeChains(belief, frontier);
      const next = nextItem(belief);
      if (next === null) return;
      const through = next + lookAheadAt(context, next);
      if (through > frontier || openChainFrom(belief) <= through) return;
      decide(belief, momentOf(belief, context, out, frontier, false), next);
    }
  },

  conclude(belief, context, frontier, now, out): Conclusion {
    tellGaps(belief, context, now, out);
    const momentAt = momentOf(belief, context, out, frontier, true);
    closeChains(belief, EVERY_CHAIN);
    // every edge that was heard of, though it may lie a little after the newest sample; timers only as far as now
    const until = Math.max(now, belief.queue.at(-1)?.edge.latest ?? now);
    for (let next = nextItem(belief); next !== null && next <= until; next = nextItem(belief))
      decide(belief, momentAt, next);
    const moment = momentAt(now);
    if (!moment) return {};
    showOpen(moment, now);
    return { unit: standingOf(moment, now) };
  },
};

type MomentAt = (at: Instant) => Moment | null;

/** What the rules are given for something that happened at an instant: the settings that held then. */
const momentOf =
  (belief: Belief, context: FoldContext, out: Output, frontier: Instant, tentative: boolean): MomentAt =>
  (at) => {
    const wiring = wiringAt(context, at);
    return wiring && { belief, wiring, context, out, at, frontier, tentative };
  };

/** The undervoltage trip is a threshold of the `healthy` track and not of its point. */
const isThresholdMoved = (role: Role, was: Wiring | null, now: Wiring | null): boolean =>
  role === 'healthy' && was?.protection.undervoltageTrip.value !== now?.protection.undervoltageTrip.value;

/** As if nothing more came. */
const EVERY_CHAIN = Number.MAX_SAFE_INTEGER;

function closeChains(belief: Belief, by: Instant): void {
  for (const role of ROLES) {
    const end = chainEnd(belief.tracks[role]);
    if (by === EVERY_CHAIN && isHumming(belief.tracks[role])) continue; // voltage is there until it is seen gone
    if (end !== null && end <= by) enqueue(belief, role, closeChain(belief.tracks[role]));
  }
}

/** The earliest instant that an open chain makes uncertain; NEVER: none is open. */
function openChainFrom(belief: Belief): Instant {
  let from = NEVER;
  for (const role of ROLES) from = Math.min(from, chainStart(belief.tracks[role]) ?? NEVER);
  return from;
}

const LASTING: readonly LastingName[] = ['conductor', 'range'];

/** The instant of the next thing to decide: an edge or a timer. */
function nextItem(belief: Belief): Instant | null {
  let next = belief.queue.length > 0 ? belief.queue[0]!.edge.latest : NEVER;
  if (belief.overdueAt !== null && belief.overdueAt < next) next = belief.overdueAt;
  if (belief.recordChangedAt !== null && belief.recordChangedAt < next) next = belief.recordChangedAt;
  next = Math.min(next, weakAt(belief) ?? NEVER);
  for (const name of LASTING) {
    const lasts = lastsAt(name, belief.lasting[name]);
    if (lasts !== null && lasts < next) next = lasts;
  }
  next = Math.min(next, shadowDue(belief.shadow));
  return next === NEVER ? null : next;
}

/** Asked at every instant of the record, so it makes no garbage. */
function waitingFor(belief: Belief, context: FoldContext): Instant | null {
  let least = belief.gapsOver[0]?.until ?? NEVER;
  for (const role of ROLES) {
    const end = chainEnd(belief.tracks[role]);
    if (end !== null && end < least) least = end;
  }
  const next = nextItem(belief);
  if (next !== null) least = Math.min(least, next + lookAheadAt(context, next));
  return least === NEVER ? null : least;
}

const lookAheadAt = (context: FoldContext, at: Instant): number => wiringAt(context, at)?.lookAhead ?? 0;

/** Decide the next thing; an edge before a timer of the same instant. Without the unit in the site it is only dropped. */
function decide(belief: Belief, momentAt: MomentAt, at: Instant): void {
  const moment = momentAt(at);
  const head = belief.queue[0];
  if (belief.recordChangedAt !== null && belief.recordChangedAt <= at) {
    const changedAt = belief.recordChangedAt;
    belief.recordChangedAt = null;
    if (moment) return recordChanged(moment, changedAt);
    return;
  }
  if (head && head.edge.latest <= at) {
    belief.queue.shift();
    if (moment) decideEdge(moment, head);
    if (moment) shadowEdge(moment, head.role, head.edge);
  } else if (belief.overdueAt !== null && belief.overdueAt <= at) {
    if (moment) retryOverdue(moment, at);
    belief.overdueAt = null;
  } else if ((weakAt(belief) ?? NEVER) <= at) {
    if (moment) weakLasted(moment, at);
    else belief.air.small = null;
  } else decideLasting(belief, moment, at);
}

function decideLasting(belief: Belief, moment: Moment | null, at: Instant): void {
  judgeShadow(belief.shadow, moment, at);
  for (const name of LASTING) {
    const lasts = lastsAt(name, belief.lasting[name]);
    if (lasts === null || lasts > at) continue;
    if (!moment) belief.lasting[name] = null;
    else if (name === 'conductor') conductorLasted(moment, lasts);
    else nowTold(moment, name);
  }
}

function decideEdge(moment: Moment, { role, edge }: Queued): void {
  if (isOverruled(moment.belief.tracks[role], edge)) {
    // it was on when first heard again: since when wasn't seen
    if (role === 'output' && edge.to === 0) moment.belief.outputLost = null;
    return;
  }
  switch (role) {
    case 'power':
      return powerChanged(moment, edge);
    case 'call':
      return callChanged(moment, edge);
    case 'air':
      return airChanged(moment, edge);
    case 'output':
      endWeak(moment, edge);
      outputChanged(moment, edge);
      levelOrOutputChanged(moment, role, edge);
      return conductorChanged(moment, role, edge);
    case 'current':
      return conductorChanged(moment, role, edge);
    case 'level':
      return levelOrOutputChanged(moment, role, edge);
    case 'alarm':
      return alarmChanged(moment, edge);
    default:
      return undefined;
  }
}

/** Everything that stands open. */
function showOpen(moment: Moment, now: Instant): void {
  const { belief, context, out } = moment;
  const { run, soft, hold, hard, alarmFault, lasting } = belief;
  if (run?.startSeen) out.event(runEvent(moment, run, null, null));
  if (soft) out.event(lockoutEvent(moment, 'soft-lockout', soft, null));
  if (hold) out.event(lockoutEvent(moment, 'undervoltage-hold', hold, null));
  if (hard?.after) out.event(lockoutEvent(moment, 'soft-lockout', hard.after, null));
  if (hard) out.event(hardEvent(moment, hard, null));
  if (alarmFault) out.event(faultEvent(moment, alarmFault, null));
  if (isTold(lasting.conductor)) out.event(conductorEvent(moment, lasting.conductor, null));
  if (belief.air.weak) out.event(weakEvent(moment, belief.air.weak, null));
  if (isTold(lasting.range)) out.event(rangeEvent(moment, lasting.range, null));
  for (const setting of ['offDelay', 'powerUpDelay'] as const) {
    const found = belief.mismatched[setting];
    if (found) out.event(mismatchedEvent(moment, setting, found, null));
  }
  showGaps(belief, context, now, out);
}
