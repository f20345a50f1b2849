import { inSeconds, type Instant } from './instant.ts';

/**
 * An instant that is only known to lie between two others, both ends included (handbook 3): a polled contact seen
 * open at t1 and closed at t2 changed somewhere in between. Everything inferred from it is interval arithmetic.
 */
export interface Span {
  readonly earliest: Instant;
  readonly latest: Instant;
}

/** A measure that is only known to lie between two numbers: [low, high]. */
export type Bounds = readonly [low: number, high: number];

export const exactly = (instant: Instant): Span => ({ earliest: instant, latest: instant });

/** Seconds from one uncertain instant to another: [least possible, most possible]. May be negative. */
export const elapsed = (from: Span, to: Span): Bounds => [
  inSeconds(to.earliest - from.latest),
  inSeconds(to.latest - from.earliest),
];

export const overlap = (a: Span, b: Span): boolean => a.earliest <= b.latest && b.earliest <= a.latest;

/** The later of two uncertain instants. */
export const later = (a: Span, b: Span): Span => ({
  earliest: Math.max(a.earliest, b.earliest),
  latest: Math.max(a.latest, b.latest),
});

/** The span moved by a difference of instants. */
export const shifted = (span: Span, by: number): Span => ({
  earliest: span.earliest + by,
  latest: span.latest + by,
});
