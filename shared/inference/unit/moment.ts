import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { shifted } from '../../base/span.ts';
import { seconds } from '../../base/instant.ts';
import type { EdgeDetail, UnitEdgeKind } from '../edge.ts';
import {
  eventId,
  weaker,
  type Certainty,
  type EventDraft,
  type EventKind,
  type Evidence,
  type Pending,
} from '../event.ts';
import type { FoldContext, Output } from '../fold.ts';
import type { Belief } from './belief.ts';
import type { Role, Wiring } from './wiring.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import { valueBefore } from '../track.ts';

/** What a rule is given: the belief, the wiring, where to say what it concludes. */
export interface Moment {
  readonly belief: Belief;
  readonly wiring: Wiring;
  readonly context: FoldContext;
  readonly out: Output;
  /** the latest instant of the edge, or the instant of the timer, that is being decided */
  readonly at: Instant;
  /** everything at or before is known */
  readonly frontier: Instant;
  /** true where it isn't yet, and the rule decides as if nothing more came: at most probable, and pending */
  readonly tentative: boolean;
}

export type EventParts = Omit<
  EventDraft,
  'id' | 'site' | 'panel' | 'unit' | 'space' | 'discriminator' | 'members'
> & {
  readonly discriminator?: string;
};

/**
 * A draft of an event about this unit. What began in a tentative moment is at most probable; of what began before, only
 * the end is pending, and of a run its cause.
 */
export function draft(moment: Moment, parts: EventParts, begun: { readonly tentative: boolean }): EventDraft {
  const { subject } = moment.context;
  const { unit } = moment.wiring;
  const discriminator = parts.discriminator ?? '';
  return {
    id: eventId(subject, parts.kind, discriminator, parts.start.latest),
    site: subject.site,
    panel: unit.panel,
    unit: unit.id,
    space: unit.space,
    ...parts,
    ...pendingOf(moment, parts, begun.tentative),
    members: [],
    discriminator,
  };
}

function pendingOf(moment: Moment, parts: EventParts, begunTentatively: boolean): Partial<EventParts> {
  if (!moment.tentative || (!begunTentatively && parts.end === null)) return {};
  const causeOpen = begunTentatively || parts.kind === 'compressor-run';
  const pending: Pending[] = [...parts.pending];
  if (begunTentatively) pending.push('certainty');
  else pending.push('end');
  if (causeOpen && parts.cause !== null) pending.push('cause');
  return {
    certainty: begunTentatively ? weaker(parts.certainty, 'probable') : parts.certainty,
    causeCertainty:
      causeOpen && parts.causeCertainty ? weaker(parts.causeCertainty, 'probable') : parts.causeCertainty,
    pending: [...new Set(pending)],
  };
}

/** An instant event: end = start. */
export const instantly = (
  moment: Moment,
  kind: EventKind,
  at: Span,
  parts: Partial<EventParts>,
): EventDraft =>
  draft(
    moment,
    {
      kind,
      cause: null,
      start: at,
      end: at,
      certainty: 'certain',
      causeCertainty: null,
      pending: [],
      measures: {},
      candidates: [],
      evidence: [],
      ...parts,
    },
    moment,
  );

/**
 * Tells the panel and the space of a change. It has come by the instant that is being decided: what only shows later when
 * it happened, as an alarm or an overdue retry does, is told with a span up to then, so that no edge is told behind what
 * the unit has already said to be known through (edge.ts, 2). An edge of another gateway is told in that one's time.
 */
export function tell(
  moment: Moment,
  kind: UnitEdgeKind,
  span: Span,
  certain = true,
  detail?: EdgeDetail,
): void {
  const { unit, doubt } = moment.wiring;
  const latest = Math.max(span.latest, moment.at - doubt);
  const edge = { unit: unit.id, kind, span: { earliest: span.earliest, latest }, certain };
  moment.out.edge(detail ? { ...edge, detail } : edge);
}

/** An edge as its own gateway timed it, for panels and spaces, which widen what they compare themselves. */
export function inOwnTime({ wiring }: Moment, role: Role, { earliest, latest }: Span): Span {
  const doubt = wiring.byRole[role]?.doubt ?? 0;
  return { earliest: earliest + doubt, latest: Math.max(earliest + doubt, latest - doubt) };
}

/** What a role's evidence is called where the wiring no longer has it. */
const SIGNAL_OF: Record<Role, SignalName> = {
  power: 'control-voltage',
  healthy: 'control-voltage',
  level: 'control-voltage',
  call: 'cooling-call',
  high: 'high-pressure',
  low: 'low-pressure',
  air: 'supply-air-temperature',
  current: 'compressor-current',
  output: 'compressor-output',
  alarm: 'lockout-alarm',
};

/** Evidence from one of the unit's own tracks. */
export const saw = (moment: Moment, role: Role, t: Instant, value: number | null, says: string): Evidence => {
  const wire = moment.wiring.byRole[role];
  const elsewhere = wire && wire.point.device !== moment.wiring.unit.id ? { device: wire.point.device } : {};
  return { signal: wire?.signal ?? SIGNAL_OF[role], ...elsewhere, t, value, says };
};

/** An end that may have come unseen since `doubtFrom`. */
export const doubtful = (end: Span, doubtFrom: Instant | null | undefined): Span => ({
  earliest: Math.min(end.earliest, doubtFrom ?? end.earliest),
  latest: end.latest,
});

/** Something that tells the end of a lockout, a hold or a run isn't known from here on. */
export function doubt({ belief }: Moment, from: Instant): void {
  for (const lockout of [belief.soft, belief.hard, belief.hold]) if (lockout) lockout.doubtFrom ??= from;
}

/** The off-cycle delay after a stop, and the power-up delay after power came back (handbook 2.1), µs. */
export const offDelayOf = ({ protection }: Wiring): number => seconds(protection.offDelay.value);
export const powerUpDelayOf = ({ protection }: Wiring): number =>
  seconds(protection.powerUpBase.value + protection.powerUpShare.value * protection.offDelay.value);

/** When a delay that began within `from` is over; widened by the timer's tolerance where `tolerance` is given. */
export const dueAfter = (from: Span, delay: number, tolerance = 0): Span => ({
  earliest: shifted(from, Math.round(delay * (1 - tolerance))).earliest,
  latest: shifted(from, Math.round(delay * (1 + tolerance))).latest,
});

/** Is control power there, as far as it is wired: present, away or not known just before the instant. */
export function powerBefore(moment: Moment, instant: Instant): 'present' | 'away' | 'not-known' {
  if (!moment.wiring.byRole.power) return 'not-known';
  const value = valueBefore(moment.belief.tracks.power, instant);
  return value === null ? 'not-known' : value === 1 ? 'present' : 'away';
}

export const least = (a: Certainty, ...more: readonly Certainty[]): Certainty => more.reduce(weaker, a);
