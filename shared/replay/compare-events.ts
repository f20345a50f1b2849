import { seconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { EventDraft, Measure } from '../inference/event.ts';

/** What was concluded from the record as it stands, and what is concluded replayed. */
export interface EventDifference {
  readonly kind: 'only-seen' | 'only-replayed' | 'changed';
  readonly seen: EventDraft | null;
  readonly replayed: EventDraft | null;
}

/** Times closer than this are the same [from memory]. */
const LAG = seconds(0.5);

/** Events that touch the stretch, compared; times and measures differ only beyond their intervals. */
export function compareEvents(
  seen: readonly EventDraft[],
  replayed: readonly EventDraft[],
  { from, to }: { readonly from: Instant; readonly to: Instant },
): EventDifference[] {
  const touches = ({ start, end }: EventDraft) => start.earliest <= to && (end?.latest ?? to) >= from;
  const left = new Set(replayed.filter(touches));
  const found: EventDifference[] = [];
  for (const event of seen.filter(touches)) {
    const twin = twinOf(event, left);
    if (twin) left.delete(twin);
    if (!twin) found.push({ kind: 'only-seen', seen: event, replayed: null });
    else if (!isSame(event, twin)) found.push({ kind: 'changed', seen: event, replayed: twin });
  }
  for (const event of left) found.push({ kind: 'only-replayed', seen: null, replayed: event });
  return found.sort((a, b) => placeOf(a) - placeOf(b));
}

const placeOf = ({ seen, replayed }: EventDifference): Instant => (seen ?? replayed)!.start.latest;

function twinOf(event: EventDraft, others: ReadonlySet<EventDraft>): EventDraft | null {
  for (const other of others)
    if (
      other.kind === event.kind &&
      subjectOf(other) === subjectOf(event) &&
      other.discriminator === event.discriminator &&
      other.start.earliest - LAG <= (event.end ?? event.start).latest &&
      event.start.earliest - LAG <= (other.end ?? other.start).latest
    )
      return other;
  return null;
}

const subjectOf = ({ panel, unit, space }: EventDraft): string => [panel, unit, space].join('/');

function isSame(a: EventDraft, b: EventDraft): boolean {
  if (a.cause !== b.cause || a.certainty !== b.certainty || a.members.join() !== b.members.join())
    return false;
  if (!together(a.start, b.start) || (a.end === null) !== (b.end === null)) return false;
  if (a.end && b.end && !together(a.end, b.end)) return false;
  const names = new Set([...Object.keys(a.measures), ...Object.keys(b.measures)]);
  return [...names].every((name) => agree(a.measures[name] ?? null, b.measures[name] ?? null));
}

const together = (a: Span, b: Span): boolean => a.earliest - LAG <= b.latest && b.earliest - LAG <= a.latest;

/** Measures agree where their intervals do; a width, a count or a word where it is the same. */
function agree(a: Measure, b: Measure): boolean {
  if (Array.isArray(a) && Array.isArray(b)) return a[0] - 0.5 <= b[1] && b[0] - 0.5 <= a[1];
  return a === b;
}
