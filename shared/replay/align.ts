import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { ControlChange, ControlReason } from '../control/state.ts';
import type { Course } from './drive.ts';

/**
 * Many courses as one: what all of them have in common, each change as the interval that holds it in every course. Where
 * they part, nothing is said from there until they are together again.
 */
export interface Change {
  readonly kind: ControlChange['kind'];
  readonly at: Span;
  /** why, in the course that is drawn first */
  readonly reason: ControlReason;
  /** every course's reason, by its code */
  readonly codes: readonly ControlReason['code'][];
}

export interface Aligned {
  readonly before: readonly Change[];
  /** from here to there the courses aren't the same; null: they are the same throughout */
  readonly open: { readonly from: Instant; readonly to: Instant } | null;
  readonly after: readonly Change[];
}

export function aligned(courses: readonly Course[], until: Instant): Aligned {
  const all = courses.map(({ changes }) => changes);
  const shortest = Math.min(...all.map(({ length }) => length));
  const longest = Math.max(...all.map(({ length }) => length));
  const same = (place: number): boolean => {
    const kind = all[0]!.at(place)?.kind;
    return kind !== undefined && all.every((changes) => changes.at(place)?.kind === kind);
  };
  let head = 0;
  while (head < shortest && same(head)) head++;
  if (head === longest) return { before: changesAt(all, 0, head), open: null, after: [] };
  let tail = 0;
  while (tail < shortest - head && same(-1 - tail)) tail++;
  const after = changesAt(all, -tail, 0);
  const parted = all.flatMap((changes) => changes.slice(head, changes.length - tail));
  const from = Math.min(...parted.map(({ at }) => at));
  const to = after[0]?.at.latest ?? until;
  return { before: changesAt(all, 0, head), open: { from, to }, after };
}

function changesAt(all: readonly (readonly ControlChange[])[], from: number, to: number): Change[] {
  const count = Math.abs(to - from);
  return Array.from({ length: count }, (_, i) => {
    const each = all.map((changes) => changes.at(from + i)!);
    const times = each.map(({ at }) => at);
    return {
      kind: each[0]!.kind,
      at: { earliest: Math.min(...times), latest: Math.max(...times) },
      reason: each[0]!.reason,
      codes: [...new Set(each.map(({ reason }) => reason.code))],
    };
  });
}
