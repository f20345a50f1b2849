import { inSeconds, seconds } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { VoltageSample } from './seen-start.ts';

/**
 * How long a low control voltage should be ignored after a start (handbook 5.6): the shortest time that covers every seen
 * start, with a margin. Refused where the dip lasts beyond 2 s or doesn't recover: that is a fault of the supply or the
 * compressor, for people, and no setting. Whether the setting may be changed at all the unit's instructions say.
 */
export interface GraceStart {
  readonly start: Span;
  /** control voltage of the unit around it, in time order */
  readonly samples: readonly VoltageSample[];
  /** the control let go while the voltage was low: how long it would have stayed low can't be seen */
  readonly dropped: boolean;
}

export type GraceAdvice =
  /** the voltage was never seen below trip after a start */
  | { readonly kind: 'none-needed'; readonly starts: number }
  | {
      readonly kind: 'suggested';
      readonly seconds: number;
      readonly starts: number;
      readonly longest: number;
    }
  | {
      readonly kind: 'refused';
      readonly why: GraceRefusal;
      readonly starts: number;
      readonly longest: number | null;
    };

export type GraceRefusal = 'no-trip' | 'few-starts' | 'too-slow' | 'lasts' | 'no-recovery' | 'cut-short';

/** Beyond this a dip is no start [handbook 5.6]. */
const LONGEST_SECONDS = 2;
/** Fewer starts show too little of how they differ [our choice]. */
const LEAST_STARTS = 5;
/** A quarter more, a tenth of a second at least, up to the next tenth [our choice]. */
const MARGIN = 0.25;
const STEP = 0.1;
/** How long after a start its dip is looked for. */
const LOOK_SECONDS = 5;

/** `tripVolts` null: the control has no undervoltage trip. `everySeconds`: how often the voltage is read; 0: each change. */
export function adviseGrace(
  starts: readonly GraceStart[],
  tripVolts: number | null,
  everySeconds: number,
): GraceAdvice {
  const refused = (why: GraceRefusal, longest: number | null = null): GraceAdvice => ({
    kind: 'refused',
    why,
    starts: starts.length,
    longest,
  });
  if (tripVolts === null) return refused('no-trip');
  if (everySeconds > STEP) return refused('too-slow');
  const lows = starts.map((start) => lowAfter(start, tripVolts));
  const seen = lows.flatMap((low) => (low.kind === 'low' ? [low.seconds] : []));
  const longest = seen.length === 0 ? null : Math.max(...seen);
  if (lows.some(({ kind }) => kind === 'open')) return refused('no-recovery', longest);
  if (longest !== null && longest > LONGEST_SECONDS) return refused('lasts', longest);
  if (lows.some(({ kind }) => kind === 'cut-short')) return refused('cut-short', longest);
  if (starts.length < LEAST_STARTS) return refused('few-starts', longest);
  if (longest === null) return { kind: 'none-needed', starts: starts.length };
  const wanted = Math.max(longest * (1 + MARGIN), longest + STEP);
  const rounded = Math.ceil(wanted / STEP - 1e-9) * STEP;
  if (rounded > LONGEST_SECONDS) return refused('lasts', longest);
  return { kind: 'suggested', seconds: Math.round(rounded * 10) / 10, starts: starts.length, longest };
}

type Low =
  { readonly kind: 'none' | 'open' | 'cut-short' } | { readonly kind: 'low'; readonly seconds: number };

/** From the start's earliest instant to the first value at or above trip after the last below. */
function lowAfter({ start, samples, dropped }: GraceStart, trip: number): Low {
  const until = start.latest + seconds(LOOK_SECONDS);
  const after = samples.filter(({ t }) => t >= start.earliest);
  const last = after.findLastIndex(({ t, volts }) => volts < trip && t <= until);
  if (last < 0) return { kind: dropped ? 'cut-short' : 'none' };
  if (dropped) return { kind: 'cut-short' };
  const back = after[last + 1];
  return back === undefined || back.t > until
    ? { kind: 'open' }
    : { kind: 'low', seconds: inSeconds(back.t - start.earliest) };
}
