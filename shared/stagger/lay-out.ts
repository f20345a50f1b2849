import type { Bounds } from '../base/span.ts';
import type { Arrangement, Option } from './arrange.ts';
import type { Hold, PlanAsk } from './ask.ts';
import { likelihoodApart, type Likelihood, type Spread } from './probability.ts';
import { voltageWhile, type StartSupply } from './supply.ts';
import { nominalWait, waitAsItIs, waitWhenSet, type Errors, type PlanUnit } from './waits.ts';

/** A plan as it is told: its order, what lies between neighbours, how likely it holds, what it costs. Everything in seconds. */
export interface StaggerPlan {
  readonly outcome: 'apart' | 'groups' | 'other-means' | 'nothing-to-plan';
  /** what is promised; null: nothing is */
  readonly hold: Hold | null;
  /** in the order in which they would start */
  readonly units: readonly PlannedUnit[];
  /** neighbours in that order */
  readonly spacings: readonly PlannedSpacing[];
  /** one for each instant of starting; of several units where they start together */
  readonly groups: readonly PlannedGroup[];
  readonly changes: number;
  /** that all starts are apart; now: null where a delay isn't known */
  readonly likelihood: { readonly proposed: Likelihood; readonly now: Likelihood | null };
  readonly price: Price;
  readonly steps: number;
}

export interface PlannedUnit {
  readonly id: string;
  readonly group: number;
  readonly now: { readonly offDelay: number; readonly nominal: number; readonly wait: Bounds | null };
  readonly proposed: { readonly offDelay: number; readonly nominal: number; readonly wait: Bounds };
  readonly isChange: boolean;
  /** what its proposed wait is known by */
  readonly by: 'set' | 'measured' | 'recorded';
}

export interface PlannedSpacing {
  readonly first: string;
  readonly second: string;
  readonly isTogether: boolean;
  readonly nominal: number;
  /** least seconds between them, with everything off in the worst way; below 0 their order may turn */
  readonly worstCase: number;
  readonly timersOnly: number;
}

export interface PlannedGroup {
  readonly units: readonly string[];
  /** locked-rotor amps that start at once; null: not recorded of some unit */
  readonly amps: number | null;
  readonly voltages: readonly GroupVoltage[];
}

export interface GroupVoltage {
  readonly supply: StartSupply['kind'];
  /** share of the nominal voltage that is left; null: can't be told */
  readonly share: number | null;
  readonly isBorne: boolean | null;
}

export interface Price {
  /** by how much the unit that is delayed most starts later after an outage, s */
  readonly laterSeconds: number;
  /** the same after an ordinary stop */
  readonly offDelayLaterSeconds: number;
}

export function laidOut(
  ask: PlanAsk,
  found: Arrangement,
  hold: Hold | null,
  outcome: StaggerPlan['outcome'],
): StaggerPlan {
  const unitOf = new Map(ask.units.map((unit) => [unit.id, unit]));
  const planned = found.groups.flatMap((group, n) =>
    [...group]
      .sort((a, b) => a.option.nominal - b.option.nominal || (a.candidate.id < b.candidate.id ? -1 : 1))
      .map((picked) => plannedUnit(ask, unitOf.get(picked.candidate.id)!, picked.option, n)),
  );
  const units = planned.map(({ offer }) => offer);
  return {
    outcome,
    hold,
    units,
    spacings: planned.slice(1).map((second, i) => spacingOf(planned[i]!, second)),
    groups: found.groups.map((group) =>
      groupOf(
        ask,
        group.map(({ candidate }) => unitOf.get(candidate.id)!),
      ),
    ),
    changes: units.filter(({ isChange }) => isChange).length,
    likelihood: {
      proposed: likelihoodApart(
        planned.map(({ spread }) => spread),
        ask.spacing,
      ),
      now: likelihoodNow(ask),
    },
    price: priceOf(units),
    steps: found.steps,
  };
}

interface Laid {
  readonly offer: PlannedUnit;
  readonly timersOnly: Bounds;
  readonly spread: Spread;
}

function plannedUnit(ask: PlanAsk, unit: PlanUnit, option: Option, group: number): Laid {
  const [kept, timers] = [waitAsItIs(unit, ask.errors), { ...ask.errors, isHandSet: false }];
  const stays = !option.isChange && kept !== null;
  const nominal = stays ? kept.nominal : nominalWait(unit, option.offDelay);
  const wait = stays ? kept.wait : waitWhenSet(unit, option.offDelay, ask.errors);
  const by = stays ? kept.by : 'set';
  return {
    offer: {
      id: unit.id,
      group,
      now: {
        offDelay: unit.offDelay,
        nominal: kept?.nominal ?? nominalWait(unit, unit.offDelay),
        wait: kept?.wait ?? null,
      },
      proposed: { offDelay: option.offDelay, nominal, wait },
      isChange: option.isChange,
      by,
    },
    timersOnly: stays ? (waitAsItIs(unit, timers)?.wait ?? wait) : waitWhenSet(unit, option.offDelay, timers),
    spread: spreadOf(unit, { nominal, wait, by }, ask.errors),
  };
}

function spreadOf(
  unit: PlanUnit,
  { nominal, wait, by }: { readonly nominal: number; readonly wait: Bounds; readonly by: string },
  errors: Errors,
): Spread {
  if (by === 'measured') return { middle: nominal, timer: (wait[1] - wait[0]) / 2, dial: 0 };
  const dial = errors.isHandSet ? unit.powerUpShare * unit.settingError : 0;
  return { middle: nominal, timer: nominal * errors.tolerance, dial };
}

const spacingOf = (first: Laid, second: Laid): PlannedSpacing => ({
  first: first.offer.id,
  second: second.offer.id,
  isTogether: first.offer.group === second.offer.group,
  nominal: second.offer.proposed.nominal - first.offer.proposed.nominal,
  worstCase: second.offer.proposed.wait[0] - first.offer.proposed.wait[1],
  timersOnly: second.timersOnly[0] - first.timersOnly[1],
});

function groupOf(
  { supplies, lowestVoltage, startPowerFactor }: PlanAsk,
  units: readonly PlanUnit[],
): PlannedGroup {
  const ampsOf = (some: readonly PlanUnit[]): number | null =>
    some.some(({ amps }) => amps === null) ? null : some.reduce((sum, { amps }) => sum + amps!, 0);
  const voltages = supplies.map((supply): GroupVoltage => {
    const amps = ampsOf(
      supply.kind === 'generator' ? units.filter(({ isOnGenerator }) => isOnGenerator) : units,
    );
    const share = amps === null ? null : voltageWhile(supply, amps, startPowerFactor);
    return { supply: supply.kind, share, isBorne: share === null ? null : share >= lowestVoltage };
  });
  return { units: units.map(({ id }) => id), amps: ampsOf(units), voltages };
}

/** With the settings that they have; null where one of them isn't known. */
function likelihoodNow(ask: PlanAsk): Likelihood | null {
  const spreads = ask.units.map((unit) => {
    const kept = waitAsItIs(unit, ask.errors);
    return kept && spreadOf(unit, kept, ask.errors);
  });
  return spreads.every((spread) => spread !== null) ? likelihoodApart(spreads, ask.spacing) : null;
}

function priceOf(units: readonly PlannedUnit[]): Price {
  const most = (of: (unit: PlannedUnit) => number): number => Math.max(0, ...units.map(of));
  return {
    laterSeconds: most(({ now, proposed }) => proposed.nominal - now.nominal),
    offDelayLaterSeconds: most(({ now, proposed }) => proposed.offDelay - now.offDelay),
  };
}
