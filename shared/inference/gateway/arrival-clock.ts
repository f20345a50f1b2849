import { seconds, type Instant } from '../../base/instant.ts';
import { correctionAt, type ClockShift } from '../../telemetry/clock-shifts.ts';

/**
 * Is a gateway's clock off, judged by when its messages arrive? (handbook 3, "Clocks".) A message can't arrive before it
 * was written: what arrives 200 s "before" it is claimed shows a clock at least 200 s ahead. One that is behind shows as
 * a lateness that is never undercut, for hours on end – or as an uplink that holds everything back by as much, which is
 * why it is only probable. A backlog comes late by lengths that vary, and judges nothing.
 *
 * Diagnostics only: no event leans on arrival.
 */
export interface ArrivalBin {
  /** when the messages arrived: from here, for as long as a bin lasts */
  readonly at: Instant;
  readonly count: number;
  /** the least lateness of its messages, seconds from claimed time to arrival; negative: before it was claimed */
  readonly leastSeconds: number;
}

export interface ArrivalClock {
  /** how far the clock is ahead of ours, beyond the offsets that are configured; negative: behind */
  readonly aheadSeconds: number;
  readonly certainty: 'certain' | 'probable';
  /** the bins that agree on it: from, through, how many, how many messages */
  readonly from: Instant;
  readonly to: Instant;
  readonly bins: number;
  readonly messages: number;
  /** bins before `from` show something else: it began then, and not before the record did */
  readonly beganSeen: boolean;
}

/** Least latenesses this close together, in seconds, are one clock [a network's jitter and a crystal's drift; from memory] */
const SAME_SECONDS = 5;
/** Nearer than this to ours a clock passes for right: no rule leans on less between two gateways. */
const OFF_SECONDS = 10;
/** So many bins must agree before a clock is said to be ahead; and behind, where an uplink may be what is late. */
const BINS_AHEAD = 3;
const BINS_BEHIND = 12;
/** So many bins in a row that disagree end the stretch over which a clock was off. */
const APART = 6;
/** The newest bins, among which the least lateness is looked for. */
const NEWEST = 6;

/** `bins` in order of time. Null: the clock passes for right, or too little was heard to say. */
export function clockByArrival(
  bins: readonly ArrivalBin[],
  shifts: readonly ClockShift[],
  uncertaintySeconds: number,
): ArrivalClock | null {
  const late = bins.map((bin) => ({ ...bin, leastSeconds: correctedLateness(bin, shifts) }));
  const level = Math.min(...late.slice(-NEWEST).map(({ leastSeconds }) => leastSeconds));
  if (!Number.isFinite(level) || Math.abs(level) <= Math.max(OFF_SECONDS, uncertaintySeconds)) return null;
  const run = agreeing(late, level);
  if (run.length < (level < 0 ? BINS_AHEAD : BINS_BEHIND)) return null;
  const first = run[0]!;
  return {
    aheadSeconds: -Math.min(...run.map(({ leastSeconds }) => leastSeconds)),
    certainty: level < 0 ? 'certain' : 'probable',
    from: first.at,
    to: run.at(-1)!.at,
    bins: run.length,
    messages: run.reduce((sum, { count }) => sum + count, 0),
    beganSeen: late[0]!.at < first.at,
  };
}

/** The offset that is configured for the times which the bin's messages claimed is taken away first. */
function correctedLateness({ at, leastSeconds }: ArrivalBin, shifts: readonly ClockShift[]): number {
  return leastSeconds - correctionAt(shifts, at - seconds(leastSeconds)) / seconds(1);
}

/** The bins, back from the newest, whose least lateness is the level's; those between that came later are backlog. */
function agreeing(bins: readonly ArrivalBin[], level: number): ArrivalBin[] {
  const found: ArrivalBin[] = [];
  let apart = 0;
  for (const bin of bins.toReversed()) {
    const away = bin.leastSeconds - level;
    if (Math.abs(away) <= SAME_SECONDS) {
      found.push(bin);
      apart = 0;
    } else if (away < 0 || ++apart >= APART) break;
  }
  return found.reverse();
}
