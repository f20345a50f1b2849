import {
  arrangeFew,
  type ArrangeAsk,
  type Arrangement,
  type Candidate,
  type Option,
  type Picked,
} from './arrange.ts';
import { arrangeMany } from './arrange-many.ts';
import type { Hold, PlanAsk } from './ask.ts';
import { laidOut, type StaggerPlan } from './lay-out.ts';
import { startingCapacity } from './supply.ts';
import {
  NO_ERRORS,
  nominalWait,
  settings,
  waitAsItIs,
  waitWhenSet,
  type Errors,
  type PlanUnit,
} from './waits.ts';

/**
 * Off-cycle delays for the units of one panel, so that their power-up delays lie a spacing apart (handbook 5.4). What is
 * promised is the strictest that can be: against timers and dials, against timers alone, or nominally. Where not even that
 * fits, units start in groups that the supply bears together; where it bears none, sequencing needs other means.
 */
const HOLDS: readonly Hold[] = ['worst-case', 'timers', 'nominal'];

export function planStagger(ask: PlanAsk): StaggerPlan {
  const holds = ask.hold ? [ask.hold] : HOLDS.filter((hold) => hold !== 'timers' || ask.errors.isHandSet);
  if (ask.units.length < 2) return laidOut(ask, asItIs(ask), null, 'nothing-to-plan');
  for (const hold of holds) {
    const apart = best(arrangeAsk(ask, hold, 0));
    if (apart) return laidOut(ask, isAll(ask, hold) ? apart : widened(ask, hold, apart), hold, 'apart');
  }
  for (const hold of holds) {
    const groups = best(arrangeAsk(ask, hold, capacityOf(ask)));
    if (groups) return laidOut(ask, groups, hold, 'groups');
  }
  return laidOut(ask, asItIs(ask), null, 'other-means');
}

/** Does the promise cover every error that is reckoned with? */
const isAll = ({ errors }: PlanAsk, hold: Hold): boolean =>
  hold === 'worst-case' || (hold === 'timers' && !errors.isHandSet);

/** Up to so many units every arrangement is looked at. */
const FEW = 7;
const best = (ask: ArrangeAsk): Arrangement | null =>
  ask.candidates.length <= FEW ? arrangeFew(ask) : arrangeMany(ask);

export function arrangeAsk(ask: PlanAsk, hold: Hold, capacity: number | null): ArrangeAsk {
  const errors = errorsFor(ask.errors, hold);
  const values = settings(ask.settable);
  return {
    candidates: ask.units.map((unit) => candidateOf(unit, values, errors)),
    spacing: ask.spacing,
    capacity,
  };
}

function errorsFor(errors: Errors, hold: Hold): Errors {
  if (hold === 'nominal') return NO_ERRORS;
  return hold === 'timers' ? { ...errors, isHandSet: false } : errors;
}

function candidateOf(unit: PlanUnit, values: readonly number[], errors: Errors): Candidate {
  const kept = waitAsItIs(unit, errors);
  const settable = values.map((offDelay): Option => ({
    offDelay,
    nominal: nominalWait(unit, offDelay),
    wait: waitWhenSet(unit, offDelay, errors),
    isChange: true,
  }));
  return {
    id: unit.id,
    amps: unit.amps,
    now: kept?.nominal ?? nominalWait(unit, unit.offDelay),
    kept: kept && { offDelay: unit.offDelay, nominal: kept.nominal, wait: kept.wait, isChange: false },
    settable,
  };
}

/** The least of what the supplies bear; null: nothing is known of any, or not what its units take. */
function capacityOf({ units, supplies, lowestVoltage, startPowerFactor }: PlanAsk): number | null {
  if (supplies.length === 0 || units.some(({ amps }) => amps === null)) return null;
  return Math.min(...supplies.map((supply) => startingCapacity(supply, lowestVoltage, startPowerFactor)));
}

/** Where the promise leaves errors out, the largest spacing that takes no further change. To a tenth of a second. */
function widened(ask: PlanAsk, hold: Hold, found: Arrangement): Arrangement {
  let { steps } = found;
  let widest = found;
  let [fits, fails] = [Math.round(ask.spacing * 10), Math.round(ask.spacing * 10) + 512];
  while (fails - fits > 1) {
    const middle = (fits + fails) >> 1;
    const next = best(arrangeAsk({ ...ask, spacing: middle / 10 }, hold, 0));
    steps += next?.steps ?? 0;
    if (next && next.cost[1] <= found.cost[1]) [fits, widest] = [middle, next];
    else fails = middle;
  }
  return { ...widest, steps };
}

/** Everything left alone, in the order of its waits. */
function asItIs(ask: PlanAsk): Arrangement {
  const { candidates } = arrangeAsk(ask, 'worst-case', 0);
  const picked = candidates.map((candidate, i): Picked => {
    const unit = ask.units[i]!;
    const option = candidate.kept ?? {
      offDelay: unit.offDelay,
      nominal: candidate.now,
      wait: waitWhenSet(unit, unit.offDelay, ask.errors),
      isChange: false,
    };
    return { candidate, option };
  });
  picked.sort((a, b) => a.option.nominal - b.option.nominal);
  return { groups: picked.map((one) => [one]), cost: [0, 0, 0, 0, 0], steps: 0 };
}
