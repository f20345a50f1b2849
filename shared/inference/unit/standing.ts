import type { Instant } from '../../base/instant.ts';
import { later, type Span } from '../../base/span.ts';
import type { Certainty, EventKind } from '../event.ts';
import { eventId } from '../event.ts';
import type { UnitPhase, UnitStanding } from '../standing.ts';
import { isTold } from './lasting.ts';
import { dueAfter, offDelayOf, powerUpDelayOf, type Moment } from './moment.ts';

/** What the unit does now, for its line on the page: one phase, since when, until when, how sure. */
interface Phase {
  readonly phase: UnitPhase;
  readonly since: Span | null;
  readonly until?: Span | null;
  readonly certainty?: Certainty;
  readonly cause?: UnitStanding['cause'];
  readonly causeCertainty?: Certainty | null;
  readonly pending?: readonly string[];
  readonly event?: string | null;
}

export function standingOf(moment: Moment, now: Instant): UnitStanding {
  const { belief, wiring } = moment;
  const phase = phaseOf(moment, now);
  const { offDelay } = wiring.protection;
  const until = phase.until ?? null;
  return {
    phase: phase.phase,
    since: phase.since,
    certainty: phase.certainty ?? 'certain',
    cause: phase.cause ?? null,
    causeCertainty: phase.causeCertainty ?? null,
    pending: phase.pending ?? [],
    call: wiring.byRole.call && belief.tracks.call.raw !== null ? belief.tracks.call.raw === 1 : null,
    until,
    untilFrom: until ? offDelay.known : null,
    overdue: until !== null && moment.frontier > until.latest && phase.phase !== 'off-delay',
    startsLastHour: belief.starts.filter((one) => now - one.latest <= 3_600_000_000).length,
    lastSeen: belief.seen,
    event: phase.event ?? null,
    ...settingsSeen(moment),
  };
}

function settingsSeen({ belief }: Moment): Pick<UnitStanding, 'settingsSeen'> {
  const seen = (['offDelay', 'powerUpDelay'] as const).flatMap((setting) => {
    const bracket = belief.brackets[setting];
    return bracket ? [{ setting, seconds: bracket.seconds, gaps: bracket.gaps }] : [];
  });
  return seen.length > 0 ? { settingsSeen: seen } : {};
}

function phaseOf(moment: Moment, now: Instant): Phase {
  const { belief, wiring } = moment;
  if (belief.powerAway && belief.tracks.power.raw === 0)
    return { phase: 'no-power', since: belief.powerAway };
  if (!wiring.runsFrom || belief.tracks.output.raw === null) return lockedOrUnknown(moment);
  if (belief.run && !belief.hard?.tentative) return running(moment);
  return locked(moment) ?? waitingOrReady(moment, now);
}

function running(moment: Moment): Phase {
  const { run, lasting } = moment.belief;
  const failed = lasting.conductor;
  if (isTold(failed) && failed.what === 'failed-start')
    return {
      phase: 'failed-start',
      since: failed.since,
      cause: failed.cause,
      event: idOf(moment, 'failed-start', failed.since),
    };
  return {
    phase: 'running',
    since: run!.startSeen ? run!.start : null,
    event: idOf(moment, 'compressor-run', run!.start),
  };
}

/** The lockouts and holds, which stand whatever the delays say. */
function locked(moment: Moment): Phase | null {
  const { belief, wiring } = moment;
  const off = offDelayOf(wiring);
  if (belief.hard) {
    const { start, reason, certainty } = belief.hard;
    return {
      phase: 'hard-lockout',
      since: start,
      certainty,
      cause: reason.cause === 'undervoltage' ? 'unknown' : reason.cause,
      causeCertainty: reason.certainty,
      pending: reason.pending,
      event: idOf(moment, 'hard-lockout', start),
    };
  }
  const held = belief.soft ?? belief.hold;
  if (!held) return null;
  const kind: EventKind & UnitPhase = belief.soft ? 'soft-lockout' : 'undervoltage-hold';
  return {
    phase: kind,
    since: held.start,
    until: dueAfter(held.start, off),
    certainty: held.reason.existence,
    cause: held.reason.cause,
    causeCertainty: held.reason.certainty,
    pending: held.reason.pending,
    event: idOf(moment, kind, held.start),
  };
}

/** Without a run signal the alarm contact can still tell a lockout. */
function lockedOrUnknown(moment: Moment): Phase {
  const { belief } = moment;
  if (belief.hard) return locked(moment)!;
  const lost = belief.outputLost;
  return { phase: 'not-known', since: lost === null ? null : { earliest: lost, latest: lost } };
}

function waitingOrReady(moment: Moment, now: Instant): Phase {
  const { belief, wiring } = moment;
  if (belief.undecidedStop)
    return { phase: 'stopped', since: belief.undecidedStop, certainty: 'probable', pending: ['cause'] };
  const stop = belief.lastStop?.span ?? null;
  const back = belief.powerBack;
  if (back && (!stop || back.latest >= stop.earliest)) {
    const until = dueAfter(back, powerUpDelayOf(wiring));
    if (until.latest > now || belief.tracks.call.raw === 1)
      return { phase: 'power-up-delay', since: back, until };
  }
  if (stop) {
    const from = belief.callBreak && offDelayCounts(moment) ? later(stop, belief.callBreak) : stop;
    const until = dueAfter(from, offDelayOf(wiring));
    if (until.latest > now) return { phase: 'off-delay', since: from, until };
    if (belief.tracks.call.raw === 1 && belief.call) return called(moment, until);
    return { phase: 'ready', since: until };
  }
  return { phase: 'ready', since: null };
}

const offDelayCounts = ({ wiring }: Moment): boolean => wiring.protection.offDelayFrom.value !== 'stop';

/** A call that should have been answered by now. */
function called(moment: Moment, until: Span): Phase {
  const since = moment.belief.call?.since ?? null;
  return {
    phase: 'stopped',
    since: since ? later(since, until) : until,
    certainty: 'possible',
    cause: 'unknown',
  };
}

const idOf = (moment: Moment, kind: EventKind, start: Span): string =>
  eventId(moment.context.subject, kind, '', start.latest);
