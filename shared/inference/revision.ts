import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Certainty, EventCause, EventDraft, Pending } from './event.ts';

/**
 * Why an event is said otherwise than before:
 *
 *   late-data      a sample (or a life) that came when later ones had been decided on, or another value for one
 *   configuration  the site's settings were changed from an instant on
 *   rules          the program's own rules were changed
 *   in-order       what came next showed it; nothing certain is taken back so
 */
export type RevisionWhy =
  | {
      readonly kind: 'late-data';
      /** null where a part of the record was made anew and nobody noted which */
      readonly gateway: string | null;
      readonly device: string | null;
      readonly signal: string | null;
      /** the earliest instant that the late data are about, on the gateway's corrected clock */
      readonly t: Instant | null;
      readonly learnedAt: Instant | null;
    }
  | { readonly kind: 'configuration'; readonly from: Instant | null }
  | { readonly kind: 'rules' }
  | { readonly kind: 'in-order' };

/** What an event said of itself, as far as a person would notice. */
export interface Said {
  readonly start: Span;
  readonly end: Span | null;
  readonly cause: EventCause | null;
  readonly certainty: Certainty;
  readonly causeCertainty: Certainty | null;
  readonly pending: readonly Pending[];
  /** true: it was said that it hadn't happened at all */
  readonly withdrawn: boolean;
}

export const saidOf = (event: EventDraft, withdrawn = false): Said => ({
  start: event.start,
  end: event.end,
  cause: event.cause,
  certainty: event.certainty,
  causeCertainty: event.causeCertainty,
  pending: event.pending,
  withdrawn,
});

/** One earlier revision of an event. */
export interface Revision {
  /** the event's id at the time: an event whose start moved has another */
  readonly id: string;
  readonly revision: number;
  readonly said: Said;
  readonly saidAt: Instant;
  readonly changedAt: Instant;
  readonly why: RevisionWhy;
}

/** Revisions of one event that are kept: the first and the newest; those in between make room. */
export const REVISIONS_KEPT = 20;

const RANK: Record<Certainty, number> = { possible: 0, probable: 1, certain: 2 };

/**
 * Did an event only grow: what was pending came to be known, it ended, it became surer? That is the ordinary life of an
 * event, and no revision that a person would ask about.
 */
export function isGrowth(was: Said, now: Said): boolean {
  const surer = (a: Certainty | null, b: Certainty | null) =>
    a === null || (b !== null && RANK[b] >= RANK[a]);
  const causeOpen = was.cause === null || was.pending.includes('cause');
  const endOpen = was.end === null || was.pending.includes('end');
  return (
    was.withdrawn === now.withdrawn &&
    sameSpan(was.start, now.start) &&
    (endOpen || sameSpan(was.end, now.end)) &&
    (causeOpen || was.cause === now.cause) &&
    surer(was.certainty, now.certainty) &&
    (causeOpen || was.cause === null || surer(was.causeCertainty, now.causeCertainty))
  );
}

/** Would a person notice the difference at all? Evidence and measures may differ without it. */
export const isSaidAlike = (was: Said, now: Said): boolean =>
  sameSpan(was.start, now.start) &&
  sameSpan(was.end, now.end) &&
  was.cause === now.cause &&
  was.certainty === now.certainty &&
  was.causeCertainty === now.causeCertainty &&
  was.withdrawn === now.withdrawn &&
  was.pending.includes('cause') === now.pending.includes('cause');

const sameSpan = (a: Span | null, b: Span | null): boolean =>
  a === b || (a !== null && b !== null && a.earliest === b.earliest && a.latest === b.latest);
