import type { EventCause, EventKind } from '../event.ts';
import type { Knowable } from './knowable.ts';

/**
 * Kinds that the wiring could show and no fold concludes yet: of these nothing is known, whatever is wired. Whoever
 * writes a fold for one takes it from this list; a test holds the list against the folds.
 */
export const NOT_YET: readonly (EventKind | `${EventKind}: ${EventCause}`)[] = [];

const NOT_YET_SAYS = 'this version doesn’t conclude it yet';

const isNotYet = (kind: EventKind, cause: EventCause | null): boolean =>
  NOT_YET.some((name) => name === kind || name === `${kind}: ${cause}`);

export const onlyConcluded = (row: Knowable): Knowable =>
  isNotYet(row.kind, row.cause)
    ? {
        ...row,
        known: 'not-at-all',
        causeKnown: row.causeKnown && 'not-at-all',
        because: NOT_YET_SAYS,
      }
    : row;
