import { instantFromMilliseconds, parseInstant, REACH, type Instant } from '../../shared/base/instant.ts';

/** A time as a message claims it (contract 1.1): ISO 8601 with a zone, or Unix milliseconds, fractions allowed. */
export function parseTime(claimed: unknown): Instant | null {
  if (typeof claimed === 'string') return parseInstant(claimed);
  if (typeof claimed !== 'number') return null;
  const instant = instantFromMilliseconds(claimed);
  return Math.abs(instant) < REACH ? instant : null;
}
