import { instantFromMilliseconds, type Instant } from '../shared/base/instant.ts';

/** This machine's time. */
export const now = (): Instant => instantFromMilliseconds(Date.now());

/** One moment by the clock, which may be set, and by the time that has passed, which can't be. */
export interface Moment {
  readonly at: Instant;
  /** microseconds since some moment of this process; stands still while the machine sleeps */
  readonly passed: number;
}

export const momentOf = (clock: () => Instant): Moment => ({
  at: clock(),
  passed: Math.floor(performance.now() * 1_000),
});
