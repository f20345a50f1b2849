import type { EventAnswer } from '../../../shared/wire/event-answer.ts';
import { readEvent } from './read-answer.ts';
import type { EventView } from './site-view.ts';

/** Events with a frame's laid over: amended, added, taken back, replaced. The very same list where nothing changes. */
export function eventsWith(
  held: readonly EventView[],
  events: readonly EventAnswer[],
  withdrawn: readonly string[],
): readonly EventView[] {
  const gone = new Set([...withdrawn, ...events.flatMap(({ id, replaces }) => [id, ...replaces])]);
  const kept = held.filter((event) => !gone.has(event.id));
  if (events.length === 0 && kept.length === held.length) return held;
  const fresh = events.filter((event) => !event.withdrawnAt).map(readEvent);
  return [...kept, ...fresh].sort((a, b) => a.start.latest - b.start.latest);
}
