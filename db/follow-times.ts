import { REACH, type Instant } from '../shared/base/instant.ts';
import { timeParameter } from './values.ts';

/**
 * Positions of a fold on their way to and from the database: "before every instant" is −REACH in a fold's state, which
 * is JSON, and PostgreSQL's own -infinity in a column.
 */
export function positionParameter(instant: Instant): string {
  if (instant <= -REACH) return '-infinity';
  return instant >= REACH ? 'infinity' : timeParameter(instant);
}

export const positionOrNull = (instant: Instant | null): string | null =>
  instant === null ? null : positionParameter(instant);

export const readPosition = (instant: Instant): Instant => Math.min(REACH, Math.max(-REACH, instant));
