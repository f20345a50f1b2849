import type { PlanAsk } from '../../shared/stagger/ask.ts';
import type { StaggerPlan } from '../../shared/stagger/lay-out.ts';
import { planStagger } from '../../shared/stagger/plan.ts';
import { sparedIn, type Spared } from '../../shared/stagger/restarts.ts';
import {
  generatorOf,
  USUAL_LOWEST_VOLTAGE,
  USUAL_START_POWER_FACTOR,
  USUAL_TRANSIENT_REACTANCE,
  utilityOf,
} from '../../shared/stagger/supply.ts';
import { USUAL_ERRORS, USUAL_SETTABLE } from '../../shared/stagger/waits.ts';
import type { StaggerAsk } from '../../shared/wire/stagger-ask.ts';
import type { PanelCase } from './panel-case.ts';

/** A panel's plan: what is asked, with what is usual and what is recorded filled in, through the planner. */
export const planPanel = (at: PanelCase, asked: StaggerAsk): StaggerPlan => planStagger(planAskOf(at, asked));

function planAskOf({ panel, units, site }: PanelCase, asked: StaggerAsk): PlanAsk {
  const rated = site.units
    .filter((unit) => unit.panel === panel.id)
    .map(({ nameplate }) => nameplate.ratedLoadAmps ?? 0);
  const standing = rated.reduce((sum, amps) => sum + amps, 0);
  const utility = utilityOf(panel, standing);
  const said = asked.generator ?? panel.generator;
  const generator = said && {
    ratedKva: said.ratedKva,
    transientReactance: said.transientReactance ?? USUAL_TRANSIENT_REACTANCE,
  };
  return {
    units,
    spacing: asked.spacing ?? Math.max(0.1, panel.minimumStartSeparationSeconds),
    errors: {
      ...USUAL_ERRORS,
      tolerance: asked.tolerance ?? USUAL_ERRORS.tolerance,
      isHandSet: asked.handSet ?? USUAL_ERRORS.isHandSet,
    },
    settable: {
      step: asked.settingStep ?? USUAL_SETTABLE.step,
      floor: asked.floor ?? USUAL_SETTABLE.floor,
      most: asked.most ?? USUAL_SETTABLE.most,
    },
    hold: asked.hold ?? null,
    supplies: [
      ...(utility ? [utility] : []),
      ...(generator ? [generatorOf(panel, generator, standing)] : []),
    ],
    lowestVoltage: asked.lowestVoltage ?? USUAL_LOWEST_VOLTAGE,
    startPowerFactor: asked.startPowerFactor ?? USUAL_START_POWER_FACTOR,
  };
}

/** What the plan would have spared in the last restarts: what was seen, shifted by what each wait changes. */
export function sparedBy({ panel, underThese }: PanelCase, plan: StaggerPlan): Spared {
  const shifts = new Map(plan.units.map(({ id, now, proposed }) => [id, proposed.nominal - now.nominal]));
  return sparedIn(underThese, shifts, panel.minimumStartSeparationSeconds);
}
