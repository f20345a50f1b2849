import { pairsOf, shiftedPairs, startsOf, type SeenPair } from '../stagger/restarts.ts';
import type { ReplayAsk } from './replay-ask.ts';
import type { ReplayResultAnswer } from './replay-answer.ts';
import { formatInstant, seconds } from '../base/instant.ts';
import type { SeenRestart, WireStaggerPlan } from './stagger-answer.ts';
import { readInstant } from './standing-wire.ts';

/** What a plan would have made of a restart that was seen: the question for a replay, and its answer for the panel. */
const BEFORE = seconds(300);
const AFTER = seconds(900);

/** Null: the plan changes nothing. */
export function replayAskOf(site: string, plan: WireStaggerPlan, restart: SeenRestart): ReplayAsk | null {
  const units = plan.units.filter(({ isChange }) => isChange);
  if (units.length === 0) return null;
  const until = readInstant(restart.until ?? restart.at.latest);
  return {
    site,
    from: formatInstant(readInstant(restart.at.earliest) - BEFORE),
    to: formatInstant(until + (restart.until === null ? AFTER : BEFORE)),
    units: units.map(({ id }) => id),
    settings: {
      units: units.map(({ id, proposed }) => ({ id, protection: { offDelay: proposed.offDelay } })),
    },
  };
}

export interface ReplayedRestart {
  readonly seen: readonly SeenPair[];
  /** null: the replay tells of no restart here */
  readonly replayed: readonly SeenPair[] | null;
  /** units that couldn't be replayed, since their calls aren't wired: shifted by what is proposed, s by unit */
  readonly shifted: Readonly<Record<string, number>>;
}

/**
 * The panel's neighbours as seen and as replayed. What the replay doesn't tell of is as it was seen; a unit that is to be set
 * and can't be replayed is shifted by what its wait changes.
 */
export function replayedRestart(
  result: ReplayResultAnswer,
  restart: SeenRestart,
  { plan, minimum }: { readonly plan: WireStaggerPlan; readonly minimum: number },
): ReplayedRestart {
  const found = result.events.find(({ seen }) => seen?.id === restart.event);
  const left = new Set(result.units.filter(({ refused }) => refused !== null).map(({ id }) => id));
  const shifts = plan.units
    .filter(({ id, isChange }) => isChange && left.has(id))
    .map(({ id, now, proposed }) => [id, proposed.nominal - now.nominal] as const);
  const { pairs: seen } = restart;
  const shifted = Object.fromEntries(shifts);
  const told = found ? found.replayed : restart;
  if (told === null) return { seen, replayed: null, shifted };
  const starts = 'starts' in told ? told.starts : startsOf(told);
  const own = 'pairs' in told ? told.pairs : pairsOf(told);
  return {
    seen,
    replayed: shifts.length > 0 ? shiftedPairs(starts, new Map(shifts), minimum) : own,
    shifted,
  };
}
