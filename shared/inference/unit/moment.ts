import type { Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import { shifted } from '../../base/span.ts';
import { seconds } from '../../base/instant.ts';
import type { EdgeDetail, UnitEdgeKind } from '../edge.ts';
import { eventId, weaker, type Certainty, type EventDraft, type EventKind, type Evidence } from '../event.ts';
import type { FoldContext, Output } from '../fold.ts';
import type { Belief } from './belief.ts';
import type { Role, Wiring } from './wiring.ts';
import { valueBefore } from '../track.ts';

/** What a rule is given: the belief, the wiring, where to say what it concludes. */
export interface Moment {
  readonly belief: Belief;
  readonly wiring: Wiring;
  readonly context: FoldContext;
  readonly out: Output;
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

/** A draft of an event about this unit. In a tentative moment it is capped: at most probable, certainty pending. */
export function draft(moment: Moment, parts: EventParts): EventDraft {
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
    ...(moment.tentative ? capped(parts) : {}),
    members: [],
    discriminator,
  };
}

const capped = (parts: EventParts): Pick<EventDraft, 'certainty' | 'causeCertainty' | 'pending'> => ({
  certainty: weaker(parts.certainty, 'probable'),
  causeCertainty: parts.causeCertainty && weaker(parts.causeCertainty, 'probable'),
  pending: [...new Set([...parts.pending, 'certainty' as const])],
});

/** An instant event: end = start. */
export const instantly = (
  moment: Moment,
  kind: EventKind,
  at: Span,
  parts: Partial<EventParts>,
): EventDraft =>
  draft(moment, {
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
  });

export function tell(
  moment: Moment,
  kind: UnitEdgeKind,
  span: Span,
  certain = true,
  detail?: EdgeDetail,
): void {
  const { id } = moment.wiring.unit;
  const edge = { unit: id, kind, span: { earliest: span.earliest, latest: span.latest }, certain };
  moment.out.edge(detail ? { ...edge, detail } : edge);
}

/** Evidence from one of the unit's own tracks. */
export const saw = (moment: Moment, role: Role, t: Instant, value: number | null, says: string): Evidence => {
  const wire = moment.wiring.byRole[role]!;
  const own = wire.point.device === moment.wiring.unit.id;
  return { signal: wire.signal, ...(own ? {} : { device: wire.point.device }), t, value, says };
};

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
