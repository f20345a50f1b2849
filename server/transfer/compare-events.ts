import { parseInstant } from '../../shared/base/instant.ts';
import type { EventAnswer } from '../../shared/wire/event-answer.ts';

/** How two files of events, each in order of start and id, differ. */
export type EventDifference =
  | { readonly kind: 'only-in-file'; readonly event: EventAnswer }
  | { readonly kind: 'only-here'; readonly event: EventAnswer }
  | { readonly kind: 'otherwise'; readonly event: EventAnswer; readonly fields: readonly string[] };

/** Comparisons leave out which revision it is, when it was said and what it stands for (contract section 4). */
const NOT_COMPARED = new Set<string>([
  'revision',
  'inferredAt',
  'replaces',
  'history',
] satisfies (keyof EventAnswer)[]);

/** Holds one event of each: files of any length. */
export async function* eventDifferences(
  file: AsyncIterator<EventAnswer>,
  here: AsyncIterator<EventAnswer>,
): AsyncGenerator<EventDifference> {
  let [a, b] = [await file.next(), await here.next()];
  while (!a.done || !b.done) {
    const order = a.done ? 1 : b.done ? -1 : compare(a.value, b.value);
    if (order < 0 && !a.done) yield { kind: 'only-in-file', event: a.value };
    if (order > 0 && !b.done) yield { kind: 'only-here', event: b.value };
    if (order === 0 && !a.done && !b.done) {
      const fields = fieldsThatDiffer(a.value, b.value);
      if (fields.length > 0) yield { kind: 'otherwise', event: b.value, fields };
    }
    [a, b] = [order <= 0 ? await file.next() : a, order >= 0 ? await here.next() : b];
  }
}

function compare(a: EventAnswer, b: EventAnswer): number {
  const [at, bt] = [parseInstant(a.start.latest) ?? 0, parseInstant(b.start.latest) ?? 0];
  if (at !== bt) return at - bt;
  return a.id === b.id ? 0 : a.id < b.id ? -1 : 1;
}

const fieldsThatDiffer = (a: EventAnswer, b: EventAnswer): string[] =>
  [...new Set([...Object.keys(a), ...Object.keys(b)])].filter(
    (name) =>
      !NOT_COMPARED.has(name) &&
      JSON.stringify(a[name as keyof EventAnswer]) !== JSON.stringify(b[name as keyof EventAnswer]),
  );
