import type { Bounds } from '../base/span.ts';

/**
 * Is it this space, or the day (handbook 4 rule 12)? A site's spaces in the same hour: how many run without a stop, and
 * which rises faster than its neighbours.
 */
export interface SpaceHour {
  readonly id: string;
  /** the least that any of its units ran of the hour, [least, most]; null: not known */
  readonly fraction: Bounds | null;
  /** K/h; null: not measured */
  readonly rise: number | null;
}

export interface Comparison {
  readonly known: number;
  readonly withoutStop: number;
  /** those that rise faster than the median of the others, by K/h, the fastest first */
  readonly faster: readonly { readonly id: string; readonly by: number }[];
}

/** of the hour; K/h [our choices] */
const WITHOUT_STOP = 0.98;
const FASTER = 1;

export function compareSpaces(hours: readonly SpaceHour[]): Comparison {
  const known = hours.filter(({ fraction }) => fraction !== null);
  const faster = hours.flatMap(({ id, rise }) => {
    const others = hours.flatMap((other) => (other.id !== id && other.rise !== null ? [other.rise] : []));
    if (rise === null || rise <= 0 || others.length === 0) return [];
    const by = rise - median(others);
    return by >= FASTER ? [{ id, by }] : [];
  });
  return {
    known: known.length,
    withoutStop: known.filter(({ fraction }) => fraction![0] >= WITHOUT_STOP).length,
    faster: faster.sort((a, b) => b.by - a.by),
  };
}

function median(values: readonly number[]): number {
  const sorted = [...values].sort((a, b) => a - b);
  const middle = sorted.length >> 1;
  return sorted.length % 2 ? sorted[middle]! : (sorted[middle - 1]! + sorted[middle]!) / 2;
}
