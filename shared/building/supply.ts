import { seconds, type Instant } from '../base/instant.ts';
import type { PanelRun } from './building-state.ts';
import type { GeneratorPlan } from './plan.ts';

/**
 * Utility, generator and the switch between them. Utility gone: the generator starts and takes over; utility back for
 * long enough: a short break, and the utility carries again (the second restart of handbook 5.3); then it cools down.
 */
export interface SupplyState {
  phase: 'standby' | 'starting' | 'carrying' | 'break' | 'cooling-down';
  dueAt: Instant | null;
}

export const STANDBY: SupplyState = { phase: 'standby', dueAt: null };

/** Sources that need no generator: the utility where it is there. */
export function feedFromUtility(panel: PanelRun): void {
  panel.source = panel.utilityAway ? 'none' : 'utility';
}

/** The utility of the generator's panels went or came back at `t`. */
export function utilityMoved(
  state: SupplyState,
  plan: GeneratorPlan,
  panels: readonly PanelRun[],
  t: Instant,
): void {
  const isAway = panels.some((panel) => panel.utilityAway);
  if (state.phase === 'carrying') {
    state.dueAt = isAway ? null : t + seconds(plan.returnSeconds);
    return;
  }
  if (state.phase === 'break') return;
  panels.forEach(feedFromUtility);
  if (!isAway || state.phase === 'starting') return;
  const warm = state.phase === 'cooling-down';
  state.phase = 'starting';
  state.dueAt = t + seconds(warm ? 3 : plan.startSeconds);
}

/** What was due at `t` happens. */
export function supplyDue(
  state: SupplyState,
  plan: GeneratorPlan,
  panels: readonly PanelRun[],
  t: Instant,
): void {
  const isAway = panels.some((panel) => panel.utilityAway);
  if (state.phase === 'carrying' && !isAway) {
    for (const panel of panels) panel.source = 'none';
    state.phase = 'break';
    state.dueAt = t + seconds(plan.breakSeconds);
  } else if ((state.phase === 'starting' || state.phase === 'break') && isAway) {
    for (const panel of panels) panel.source = 'generator';
    state.phase = 'carrying';
    state.dueAt = null;
  } else if (state.phase === 'cooling-down') {
    Object.assign(state, STANDBY);
  } else {
    panels.forEach(feedFromUtility);
    state.phase = 'cooling-down';
    state.dueAt = t + seconds(plan.coolDownSeconds);
  }
}
