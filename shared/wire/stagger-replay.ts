import { pairsOf, type SeenPair } from '../stagger/restarts.ts';
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
  /** units that couldn't be replayed: their calls aren't wired */
  readonly left: readonly string[];
}

/** The panel's neighbours as seen and as replayed. What the replay doesn't tell of is as it was seen. */
export function replayedRestart(result: ReplayResultAnswer, restart: SeenRestart): ReplayedRestart {
  const found = result.events.find(({ seen }) => seen?.id === restart.event);
  const left = result.units.filter(({ refused }) => refused !== null).map(({ id }) => id);
  if (!found) return { seen: restart.pairs, replayed: restart.pairs, left };
  return { seen: restart.pairs, replayed: found.replayed && pairsOf(found.replayed), left };
}
