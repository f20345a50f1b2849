import type { Instant } from '../../base/instant.ts';
import type { Fold, FoldContext, Output } from '../fold.ts';
import { isGatewaysSilence, noteGateway } from '../members/gateway-silence.ts';
import { closeChains, nextChainEnd, ownPoint } from '../members/own-points.ts';
import { placeAt } from '../members/place.ts';
import { isOwnKey, type Item } from '../members/queue.ts';
import { advance, everyRow, taking, upTo, waitingFor, type Steps } from '../members/taking.ts';
import { silentPoint, tentative } from '../subject-draft.ts';
import { judgeWaits, takeUnitEdge, waitsDue } from './ability.ts';
import { followForecast } from './forecast.ts';
import { openLosses, sweep, sweepBehind, sweepDue } from './loss.ts';
import { showOpen, standingOf } from './show.ts';
import { newSpaceState, type SpaceMoment, type SpaceState } from './state.ts';
import { followRising } from './temperature-rising.ts';
import { relevel, takeTemperature, takeTemperatureKnowledge, temperatureChanged } from './temperature.ts';
import { countDoubt, countRuns, followPeriod, loseWarmth, takeWarmth } from './warmth.ts';

/**
 * Is the space cooled (handbook 6)? Edges of its units tell which can run and whether cooling is wanted, its own points
 * how warm it is. Rows wait in a queue and are applied one instant after the other up to the frontier, which draws lines;
 * a little behind, the lines are swept for losses.
 */
export const spaceFold: Fold<SpaceState> = {
  ...taking,
  kind: 'space',
  version: 10,
  start: newSpaceState,
  waiting: (state, context) => waitingFor(state.queue, Math.min(nextDue(state), sweepDue(state, context))),
  settle(state, context, frontier, out) {
    advance(stepsOf(state, context, out), upTo(frontier));
    sweepBehind(momentAt(state, context, frontier, out), frontier);
  },
  conclude(state, context, frontier, now, out) {
    const moment = momentAt(state, context, now, out);
    const cautious = tentative(out, openLosses(moment));
    advance(stepsOf(state, context, out), everyRow(frontier));
    sweep({ ...moment, out: cautious }, Number.MAX_SAFE_INTEGER);
    showOpen(moment, cautious);
    return { space: standingOf(moment) };
  },
  leansOn: ({ kind, cause }, { sources }) =>
    kind === 'high-temperature' && cause === 'measured'
      ? sources.filter(({ signal }) => signal === 'space-temperature')
      : null,
};

const nextDue = (state: SpaceState): Instant =>
  Math.min(nextChainEnd(state.points) ?? Infinity, state.due ?? Infinity);

const momentAt = (state: SpaceState, context: FoldContext, t: Instant, out: Output): SpaceMoment => ({
  state,
  context,
  place: placeAt(context, t),
  t,
  out,
  moved: null,
});

function stepsOf(state: SpaceState, context: FoldContext, out: Output): Steps {
  const at = (t: Instant, act: (moment: SpaceMoment) => void): void => {
    const moment = momentAt(state, context, t, out);
    countRuns(moment);
    act(moment);
    judgeWaits(moment);
    followPeriod(moment);
    followForecast(moment);
    followRising(moment);
    state.due = waitsDue(moment);
  };
  return {
    queue: state.queue,
    nextDue: () => nextDue(state),
    rows: (t, items) => at(t, (moment) => items.forEach((item) => apply(moment, item))),
    due: (t) =>
      at(t, (moment) => {
        for (const [key, edge] of closeChains(state.points, t)) temperatureChanged(moment, key, edge);
      }),
  };
}

function apply(moment: SpaceMoment, item: Item): void {
  const { state, context, out } = moment;
  switch (item.kind) {
    case 'edge':
      countDoubt(moment, item.edge);
      return takeUnitEdge(moment, item.edge);
    case 'value':
      takeWarmth(moment, item);
      return takeTemperature(moment, item);
    case 'gateway-lost':
    case 'gateway-back':
      return noteGateway(state.gateways, item.gateway, item.t, item.kind === 'gateway-back');
    case 'settings':
      return relevel(moment);
    default: {
      if (item.kind === 'lost') loseWarmth(moment, item);
      const own = ownPoint(state.points, item.key);
      const { key, t } = item;
      if (item.kind === 'back' && own.silentSince !== null && isOwnKey(context.subject, key))
        if (!isGatewaysSilence(state.gateways, context, { key, since: own.silentSince, until: t }))
          out.event(silentPoint(context.subject, key, own.silentSince, t));
      return takeTemperatureKnowledge(moment, item);
    }
  }
}
