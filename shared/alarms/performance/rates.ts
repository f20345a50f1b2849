import { seconds, type Instant } from '../../base/instant.ts';

/**
 * How often somebody is asked (handbook 7, ISA-18.2-2016 and EEMUA 191 by secondary texts): counts in hours and in pieces of
 * ten minutes that begin at full ten minutes of the clock, and floods made of such pieces.
 */
export interface Stretch {
  readonly from: Instant;
  /** not included */
  readonly to: Instant;
}

export const TEN_MINUTES = seconds(600);
export const HOUR = seconds(3600);
/** a flood begins with a piece of more than ten, and is over with the first of fewer than five */
const FLOOD_ABOVE = 10;
const FLOOD_ENDS_BELOW = 5;

export interface Flood extends Stretch {
  readonly count: number;
}

/** How many pieces a stretch touches. */
export const piecesOf = ({ from, to }: Stretch, piece: number): number =>
  to <= from ? 0 : Math.ceil(to / piece) - Math.floor(from / piece);

/** By its beginning, for the pieces that hold any. */
export function countsBy(instants: readonly Instant[], piece: number): Map<Instant, number> {
  const counts = new Map<Instant, number>();
  for (const at of instants) {
    const begins = Math.floor(at / piece) * piece;
    counts.set(begins, (counts.get(begins) ?? 0) + 1);
  }
  return counts;
}

export const mostOf = (counts: ReadonlyMap<Instant, number>): number => Math.max(0, ...counts.values());

/** Floods that begin in the stretch, the oldest first; one that isn't over ends with the stretch. */
export function floodsOf(instants: readonly Instant[], { from, to }: Stretch): Flood[] {
  const counts = countsBy(
    instants.filter((at) => at >= from && at < to),
    TEN_MINUTES,
  );
  const floods: Flood[] = [];
  for (const begins of [...counts.keys()].toSorted((a, b) => a - b)) {
    const last = floods.at(-1);
    if ((last && begins < last.to) || counts.get(begins)! <= FLOOD_ABOVE) continue;
    floods.push(floodFrom(begins, counts, to));
  }
  return floods;
}

function floodFrom(begins: Instant, counts: ReadonlyMap<Instant, number>, to: Instant): Flood {
  let [end, count] = [begins, 0];
  for (; end < to; end += TEN_MINUTES) {
    const more = counts.get(end) ?? 0;
    if (end > begins && more < FLOOD_ENDS_BELOW) break;
    count += more;
  }
  return { from: begins, to: end, count };
}

/** Share of the stretch's ten minutes that are part of a flood, 0 to 1. */
export const shareInFlood = (floods: readonly Flood[], stretch: Stretch): number => {
  const pieces = piecesOf(stretch, TEN_MINUTES);
  const flooded = floods.reduce((sum, { from, to }) => sum + Math.round((to - from) / TEN_MINUTES), 0);
  return pieces === 0 ? 0 : flooded / pieces;
};
