import { seconds, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';

/**
 * One start of a motor as a voltmeter saw it: the voltage before, and while the rotor was locked (handbook 5.5). The dip
 * lasts a few tenths of a second, so a meter sees it where it reports changes, or several values a dip; one that reads each
 * second may miss it or see it diluted, and says only how deep the dip was at least.
 */
export interface VoltageSample {
  readonly t: Instant;
  readonly volts: number;
}

export interface StartWindow {
  /** when the motor started, widened by the clocks between its gateway and the meter's */
  readonly start: Span;
  /** samples around it, in time order */
  readonly samples: readonly VoltageSample[];
  /** on-change: a value holds until the next, within this many volts; null: each sample stands for its instant */
  readonly deadband: number | null;
}

export type SeenStart =
  | {
      readonly kind: 'seen';
      readonly before: number;
      readonly during: number;
      /** V by which either may be off */
      readonly within: number;
      /** when the lowest value was read */
      readonly at: Instant;
    }
  /** `lowest` was read, and the true dip may be deeper; null: nothing was read while it started */
  | {
      readonly kind: 'too-slow';
      readonly before: number;
      readonly lowest: number | null;
      readonly everySeconds: number;
    }
  | { readonly kind: 'unsteady' }
  | { readonly kind: 'no-voltage' };

/** How long before a start the voltage is read, and how long after its latest instant the dip may show. */
const BEFORE_SECONDS = 5;
const AFTER_SECONDS = 1.5;
/** Values further apart than this show no dip of a few tenths of a second [starts of small compressors last 0.1 to 1 s, from memory]. */
const FAST_SECONDS = 0.1;
/** The voltage before may move by so much of itself and still be called steady. */
const STEADY = 0.01;
/** V: what a meter's last digit stands for at least. */
const DIGIT = 0.05;

export function seenStart({ start, samples, deadband }: StartWindow): SeenStart {
  const from = start.earliest - seconds(BEFORE_SECONDS);
  const until = start.latest + seconds(AFTER_SECONDS);
  const earlier = samples.filter(({ t }) => t < start.earliest);
  const recent = earlier.filter(({ t }) => t >= from);
  const before = beforeStart(earlier, recent, deadband);
  if (before === null) return { kind: 'no-voltage' };
  const while_ = samples.filter(({ t }) => t >= start.earliest && t <= until);
  const lowest = while_.reduce<VoltageSample | null>((a, b) => (a && a.volts <= b.volts ? a : b), null);
  const every = deadband === null ? widestGap(samples, start.earliest, until) : 0;
  if (every > FAST_SECONDS)
    return { kind: 'too-slow', before: before.volts, lowest: lowest?.volts ?? null, everySeconds: every };
  if (before.moved > STEADY * before.volts) return { kind: 'unsteady' };
  // nothing reported on change: it moved by less than the deadband
  const during = lowest === null ? before.volts : Math.min(before.volts, lowest.volts);
  const within = Math.max(DIGIT, lowest === null ? (deadband ?? 0) : DIGIT);
  return { kind: 'seen', before: before.volts, during, within, at: lowest?.t ?? start.earliest };
}

function beforeStart(
  earlier: readonly VoltageSample[],
  recent: readonly VoltageSample[],
  deadband: number | null,
): { readonly volts: number; readonly moved: number } | null {
  const used = recent.length > 0 ? recent : deadband === null ? [] : earlier.slice(-1);
  const newest = used.at(-1);
  if (!newest || newest.volts <= 0) return null;
  const volts = used.map((sample) => sample.volts);
  // on change the newest holds; of many values each the middle one is the voltage
  const level = deadband === null ? middle(volts.slice(-20)) : newest.volts;
  return { volts: level, moved: deadband === null ? Math.max(...volts) - Math.min(...volts) : 0 };
}

const middle = (values: readonly number[]): number => values.toSorted((a, b) => a - b)[values.length >> 1]!;

/** s between neighbours, from the last sample before the start to the first after it may be over. */
function widestGap(samples: readonly VoltageSample[], from: Instant, until: Instant): number {
  const first = samples.findLastIndex(({ t }) => t < from);
  const last = samples.findIndex(({ t }) => t > until);
  if (first < 0 || last < 0) return Infinity;
  const gaps = samples.slice(first, last).map(({ t }, i) => samples[first + i + 1]!.t - t);
  return Math.max(...gaps) / 1e6;
}
