import type { EventDraft } from '../inference/event.ts';
import type { StaggerPlan } from '../stagger/lay-out.ts';
import type { Kept, Proposal, ProposalStep, TakenStep } from '../stagger/life.ts';
import { pairsOf, startsOf } from '../stagger/restarts.ts';
import type { KeptAnswer, ProposalAnswer, SeenRestart, WireStaggerPlan } from './stagger-answer.ts';
import { wireInstant, wireSpan } from './standing-wire.ts';

/** Plans, restarts and proposals as they cross. */
export const wirePlan = (plan: StaggerPlan): WireStaggerPlan => ({
  ...plan,
  units: plan.units.map((unit) => ({ ...unit })),
  spacings: plan.spacings.map((spacing) => ({ ...spacing })),
  groups: plan.groups.map((group) => ({
    ...group,
    units: [...group.units],
    voltages: group.voltages.map((voltage) => ({ ...voltage })),
  })),
});

export const wireRestart = (event: EventDraft): SeenRestart => ({
  event: event.id,
  at: wireSpan(event.start)!,
  until: event.end && wireInstant(event.end.latest),
  starts: startsOf(event).map(({ unit, started }) => ({ unit, started })),
  pairs: pairsOf(event),
});

const wireKept = (kept: Kept): KeptAnswer => ({
  ...kept,
  at: wireSpan(kept.at),
  units: kept.units.map((unit) => ({ ...unit })),
  together: kept.together.map((pair) => [...pair]),
});

export function wireProposal(row: Proposal, steps: readonly TakenStep[], kept: Kept | null): ProposalAnswer {
  const done = (step: ProposalStep) => {
    const found = steps.find((one) => one.step === step);
    return found ? { by: found.by, at: wireInstant(found.at)!, note: found.note } : null;
  };
  const set = steps.find(({ step }) => step === 'set');
  return {
    id: row.id,
    site: row.site,
    panel: row.panel,
    state: row.state,
    drafted: { by: row.draftedBy, at: wireInstant(row.draftedAt)!, note: '' },
    agreed: done('agree'),
    withdrawn: done('withdraw'),
    set: set
      ? {
          ...done('set')!,
          from: wireInstant(set.fromAt ?? set.at)!,
          readBacks: (set.readBacks ?? []).map((one) => ({ ...one })),
        }
      : null,
    kept: kept && wireKept(kept),
    plan: wirePlan(row.plan),
  };
}
