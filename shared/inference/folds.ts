import type { Fold } from './fold.ts';
import type { Subject } from './event.ts';
import { unitFold } from './unit/fold.ts';

/** What is folded, by the kind of its subject: the follower looks here, and so does whoever replays. */
// a fold's state is its own affair: whoever holds the registry passes states through unread
// eslint-disable-next-line @typescript-eslint/no-explicit-any
export const FOLDS: Readonly<Partial<Record<Subject['kind'], Fold<any>>>> = {
  unit: unitFold,
};
