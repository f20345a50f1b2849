import type { Instant } from '../base/instant.ts';
import { exactly } from '../base/span.ts';
import type { Output } from './fold.ts';
import { eventId, weaker, type EventDraft, type EventKind, type Subject } from './event.ts';

/** What a rule about a panel, a space, a gateway or a site says of an event; the rest follows from the subject. */
export type SubjectEvent = Pick<EventDraft, 'kind' | 'cause' | 'start' | 'end' | 'certainty'> &
  Partial<
    Pick<EventDraft, 'causeCertainty' | 'pending' | 'measures' | 'candidates' | 'evidence' | 'members'>
  > & {
    readonly discriminator?: string;
  };

export function draftAbout(subject: Subject, parts: SubjectEvent): EventDraft {
  const discriminator = parts.discriminator ?? '';
  return {
    id: eventId(subject, parts.kind, discriminator, parts.start.latest),
    site: subject.site,
    panel: subject.kind === 'panel' ? subject.device : null,
    unit: null,
    space: subject.kind === 'space' ? subject.device : null,
    ...(subject.kind === 'gateway' ? { gateway: subject.device } : {}),
    causeCertainty: null,
    pending: [],
    measures: {},
    candidates: [],
    evidence: [],
    members: [],
    ...parts,
    discriminator,
  };
}

/** The same event while it isn't known that nothing more comes: at most probable, certainty pending. */
export const tentatively = (event: EventDraft): EventDraft => ({
  ...event,
  certainty: weaker(event.certainty, 'probable'),
  causeCertainty: event.causeCertainty && weaker(event.causeCertainty, 'probable'),
  pending: [...new Set([...event.pending, 'certainty' as const])],
});

/**
 * Lets pass what is known `through` an instant: what began after it is said tentatively, and of what ended after it the
 * end waits. A silence is one only once its end is known, and so is an excursion of the voltage: its meter may have been
 * lost meanwhile; that nobody listened leans on no sample.
 */
export const upToFrontier = (out: Output, through: (event: EventDraft) => Instant): Output => ({
  edge: (edge) => out.edge(edge),
  event: (event) => {
    const frontier = through(event);
    const endWaits = event.end !== null && event.end.latest > frontier;
    const waits = event.start.latest > frontier || (endWaits && KNOWN_BY_THEIR_END.has(event.kind));
    if (event.cause === 'not-watched') out.event(event);
    else if (waits) out.event(tentatively(event));
    else
      out.event(endWaits ? { ...event, pending: [...new Set([...event.pending, 'end' as const])] } : event);
  },
});

/**
 * Says everything tentatively, but for what has been said before with a certainty of its own (`firm`): of that only the
 * end is new, and waits.
 */
export const tentative = (out: Output, firm: readonly EventDraft[] = []): Output => ({
  edge: (edge) => out.edge(edge),
  event: (event) => {
    const before = firm.find(({ id }) => id === event.id);
    out.event(before ? { ...before, end: event.end, measures: event.measures } : tentatively(event));
  },
});

/**
 * A polled point that was silent while its own polling says it should have been heard: last sample → next (contract 4).
 * An on-change point is silent only with its gateway, and that is the gateway's event. While it lasts it is probable:
 * the gateway may still hold what it saw, and backfill would close the gap.
 */
export function silentPoint(
  subject: Subject,
  key: string,
  since: Instant,
  until: Instant | null,
): EventDraft {
  return silence(subject, 'point-silent', since, until, {
    id: eventId({ ...subject, device: key }, GAP, '', since),
    point: key,
  });
}

/** A gateway that promised heartbeats and was silent for three periods of watched time (handbook 3). */
export const silentGateway = (subject: Subject, since: Instant, until: Instant | null): EventDraft =>
  silence(subject, 'gateway-silent', since, until, {});

const GAP: EventKind = 'telemetry-gap';
const KNOWN_BY_THEIR_END: ReadonlySet<EventKind> = new Set([
  GAP,
  'voltage-sag',
  'voltage-swell',
  'interruption',
]);

function silence(
  subject: Subject,
  cause: 'point-silent' | 'gateway-silent',
  since: Instant,
  until: Instant | null,
  about: Partial<EventDraft>,
): EventDraft {
  const event = draftAbout(subject, {
    kind: GAP,
    cause,
    start: exactly(since),
    end: until === null ? null : exactly(until),
    certainty: 'certain',
    causeCertainty: 'certain',
    pending: until === null ? ['end'] : [],
  });
  return { ...(until === null ? tentatively(event) : event), ...about };
}
