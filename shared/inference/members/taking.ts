import type { Instant } from '../../base/instant.ts';
import type { Fold } from '../fold.ts';
import { dequeueInstant, edgeItem, enqueue, knowledgeItem, readingItem, type Item } from './queue.ts';

/**
 * The half of a fold that panels, spaces and sites have in common: whatever is taken goes into the queue, and is applied
 * from there one instant after the other, with what is due in between, up to the frontier.
 */
interface Queueing {
  readonly queue: Item[];
}

type Taking = Pick<Fold<Queueing>, 'take' | 'silent' | 'resumed' | 'reconfigured'> &
  Required<Pick<Fold<Queueing>, 'takeEdge'>>;

export const taking: Taking = {
  take(state, context, source, t, value, quality) {
    enqueue(state.queue, readingItem(context, source, t, value, quality));
  },
  takeEdge(state, _context, edge) {
    enqueue(state.queue, edgeItem(edge));
  },
  silent(state, context, source, at) {
    const item = knowledgeItem(context, source, at, 'lost');
    if (item) enqueue(state.queue, item);
  },
  resumed(state, context, source, at) {
    const item = knowledgeItem(context, source, at, 'back');
    if (item) enqueue(state.queue, item);
  },
  reconfigured(state, _context, at) {
    enqueue(state.queue, { t: at, kind: 'settings' });
  },
};

/** How far to go: rows that have come, and what is due because nothing came. */
export interface Reach {
  readonly rows: Instant;
  readonly due: Instant;
}

/** Every row that has come, but nothing that leans on none having come after the frontier. */
export const everyRow = (frontier: Instant): Reach => ({ rows: Number.MAX_SAFE_INTEGER, due: frontier });
export const upTo = (frontier: Instant): Reach => ({ rows: frontier, due: frontier });

/** What is to be done at an instant: its rows, or what is due then. Rows of an instant come before what is due at it. */
export interface Steps {
  readonly queue: Item[];
  /** Infinity: nothing is due */
  nextDue(): Instant;
  rows(t: Instant, items: readonly Item[]): void;
  due(t: Instant): void;
}

export function advance(steps: Steps, reach: Reach): void {
  for (;;) {
    const row = steps.queue[0]?.t ?? Infinity;
    const due = steps.nextDue();
    const next = due <= reach.due ? due : Infinity;
    if (row <= reach.rows && row <= next) steps.rows(row, dequeueInstant(steps.queue, row));
    else if (next < Infinity) steps.due(next);
    else return;
  }
}

/** The first of what is in the queue and what is due; null: nothing waits. */
export function waitingFor(queue: readonly Item[], due: Instant): Instant | null {
  const next = Math.min(queue[0]?.t ?? Infinity, due);
  return next === Infinity ? null : next;
}

export const earlier = (a: Instant | null, b: Instant | null): Instant | null =>
  a === null ? b : b === null ? a : Math.min(a, b);
