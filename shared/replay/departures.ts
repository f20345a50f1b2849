import { seconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';

/**
 * Where the replayed output certainly isn't as the seen one was. From there on, what depends on the output – the pressures,
 * the call that cooling ends, the voltage that a start pulls down – would have been otherwise than the record has it.
 */
export interface Departure {
  /** `unseen-run`: replayed on while seen off. `held-off`: replayed off while seen on. */
  readonly kind: 'unseen-run' | 'held-off';
  readonly from: Instant;
  readonly to: Instant;
  /** which change parted them: one of them started, or one of them stopped */
  readonly by: 'start' | 'stop';
  /** it ends because the seen one starts as well */
  readonly seenFollows: boolean;
}

export interface Switching {
  readonly at: Span;
  readonly on: boolean;
}

/** One of the two, as it may be known: on or off at first, then its changes in order; unknown within `open`. */
export interface Line {
  readonly first: boolean;
  readonly changes: readonly Switching[];
  readonly open?: { readonly from: Instant; readonly to: Instant } | null;
}

/** A contactor, a relay and a sampling gateway take their time: less than this is no departure [from memory]. */
const LAG = seconds(0.5);

export function departuresOf(replayed: Line, seen: Line, from: Instant, to: Instant): Departure[] {
  const found: Departure[] = [];
  for (const [begin, end] of stretches([replayed, seen], from, to)) {
    const [r, s] = [certainlyOn(replayed, begin, end), certainlyOn(seen, begin, end)];
    if (r === null || s === null || r === s) continue;
    const kind = r ? 'unseen-run' : 'held-off';
    const last = found.at(-1);
    if (last?.kind === kind && last.to === begin) found[found.length - 1] = { ...last, to: end };
    else
      found.push({
        kind,
        from: begin,
        to: end,
        by: partedBy(kind, replayed, seen, begin),
        seenFollows: false,
      });
  }
  return found
    .filter((one) => one.to - one.from > LAG)
    .map((one) => ({ ...one, seenFollows: seen.changes.some(({ at, on }) => on && at.earliest === one.to) }));
}

/** Pieces of time within which neither line's certainty changes. */
function stretches(lines: readonly Line[], from: Instant, to: Instant): [Instant, Instant][] {
  const marks = lines.flatMap(({ changes, open }) => [
    ...changes.flatMap(({ at }) => [at.earliest, at.latest]),
    ...(open ? [open.from, open.to] : []),
  ]);
  const inside = [...new Set([from, ...marks.filter((at) => at > from && at < to), to])].sort(
    (a, b) => a - b,
  );
  return inside.slice(1).map((end, i) => [inside[i]!, end]);
}

function certainlyOn({ first, changes, open }: Line, from: Instant, to: Instant): boolean | null {
  if (open && open.from < to && open.to > from) return null;
  let on = first;
  for (const change of changes) {
    if (change.at.earliest >= to) break;
    if (change.at.latest > from) return null;
    on = change.on;
  }
  return on;
}

/** The newest change of the one that is on now, or of the one that is off now. */
function partedBy(kind: Departure['kind'], replayed: Line, seen: Line, at: Instant): 'start' | 'stop' {
  const [on, off] = kind === 'unseen-run' ? [replayed, seen] : [seen, replayed];
  const newest = ({ changes }: Line): Instant =>
    changes.findLast((change) => change.at.latest <= at)?.at.latest ?? -Infinity;
  return newest(on) >= newest(off) ? 'start' : 'stop';
}
