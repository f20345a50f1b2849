import type { Instant } from '../../base/instant.ts';
import type { Fold, FoldContext, Output } from '../fold.ts';
import { closeChains, nextChainEnd, ownPoint } from '../members/own-points.ts';
import { placeAt } from '../members/place.ts';
import { isOwnKey, type Item } from '../members/queue.ts';
import { advance, earlier, everyRow, taking, upTo, waitingFor, type Steps } from '../members/taking.ts';
import { silentPoint, tentative } from '../subject-draft.ts';
import { abilityDue, judgeUnits, reach, takeUnitEdge } from './ability.ts';
import { judgeDemand } from './demand.ts';
import { judgeLoss, lossDue, settleLosses, widen } from './loss.ts';
import { firmNow, showOpen, standingOf } from './show.ts';
import { newSpaceState, type SpaceMoment, type SpaceState } from './state.ts';
import { relevel, takeTemperature, takeTemperatureKnowledge, temperatureChanged } from './temperature.ts';

/**
 * Is the space cooled (handbook 6)? Edges of its units tell which can run and whether cooling is wanted, its own points
 * how warm it is. Rows wait in a queue and are applied one instant after the other up to the frontier; after each instant
 * the question is asked anew.
 */
export const spaceFold: Fold<SpaceState> = {
  ...taking,
  kind: 'space',
  version: 1,
  start: newSpaceState,
  waiting: (state) => waitingFor(state.queue, nextDue(state)),
  settle(state, context, frontier, out) {
    advance(stepsOf(state, context, out), upTo(frontier));
  },
  conclude(state, context, frontier, now, out) {
    const moment = { state, context, place: placeAt(context, now), t: now, out };
    const cautious = tentative(out, firmNow(moment, frontier));
    advance(stepsOf(state, context, cautious), everyRow(frontier));
    showOpen(moment, cautious);
    return { space: standingOf(moment) };
  },
};

const nextDue = (state: SpaceState): Instant =>
  Math.min(nextChainEnd(state.points) ?? Infinity, state.due ?? Infinity);

function stepsOf(state: SpaceState, context: FoldContext, out: Output): Steps {
  const at = (t: Instant, act: (moment: SpaceMoment) => void): void => {
    const moment = { state, context, place: placeAt(context, t), t, out };
    state.moved = null;
    act(moment);
    state.due = earlier(abilityDue(moment), lossDue(moment));
  };
  return {
    queue: state.queue,
    nextDue: () => nextDue(state),
    rows: (t, items) =>
      at(t, (moment) => {
        for (const item of items) apply(moment, item);
        judge(moment);
      }),
    due: (t) => at(t, pass),
  };
}

/** What is due at this instant, because nothing came. */
function pass(moment: SpaceMoment): void {
  const { state, t } = moment;
  for (const [key, edge] of closeChains(state.points, t)) {
    reach(state, edge);
    temperatureChanged(moment, key, edge);
  }
  judge(moment);
  settleLosses(moment);
}

function judge(moment: SpaceMoment): void {
  judgeUnits(moment);
  judgeDemand(moment);
  judgeLoss(moment);
}

function apply(moment: SpaceMoment, item: Item): void {
  const { state, context, out } = moment;
  switch (item.kind) {
    case 'edge':
      reach(state, item.edge.span);
      widen(moment, item.edge.span);
      return takeUnitEdge(moment, item.edge);
    case 'value':
      return takeTemperature(moment, item);
    case 'settings':
      return relevel(moment);
    default: {
      const own = ownPoint(state.points, item.key);
      if (item.kind === 'back' && own.silentSince !== null && isOwnKey(context.subject, item.key))
        out.event(silentPoint(context.subject, item.key, own.silentSince, item.t));
      return takeTemperatureKnowledge(moment, item);
    }
  }
}
