import type { Instant } from '../../base/instant.ts';
import type { EventDraft } from '../event.ts';
import type { Fold, FoldContext, Output } from '../fold.ts';
import { closeChains, nextChainEnd, ownPoint } from '../members/own-points.ts';
import { placeAt } from '../members/place.ts';
import {
  dequeueInstant,
  edgeItem,
  enqueue,
  isOwnKey,
  knowledgeItem,
  readingItem,
  type Item,
} from '../members/queue.ts';
import { silentPoint, tentative } from '../subject-draft.ts';
import { abilityDue, judgeUnits, reach, takeUnitEdge } from './ability.ts';
import { judgeDemand } from './demand.ts';
import { judgeLoss, lossDue, lossEvent, settleLosses, widen } from './loss.ts';
import { openLosses, standingOf } from './show.ts';
import { newSpaceState, type SpaceMoment, type SpaceState } from './state.ts';
import {
  hotEvent,
  relevel,
  takeTemperature,
  takeTemperatureKnowledge,
  temperatureChanged,
} from './temperature.ts';

/**
 * Is the space cooled (handbook 6)? Edges of its units tell which can run and whether cooling is wanted, its own points
 * how warm it is. Rows wait in a queue and are applied one instant after the other up to the frontier; after each instant
 * the question is asked anew.
 */
export const spaceFold: Fold<SpaceState> = {
  kind: 'space',
  version: 1,
  start: newSpaceState,
  take(state, context, source, t, value, quality) {
    enqueue(state.queue, readingItem(context, source, t, value, quality));
  },
  takeEdge(state, _context, edge) {
    enqueue(state.queue, edgeItem(edge));
  },
  silent(state, context, source, at) {
    const item = knowledgeItem(context, source, at, 'lost');
    if (item) enqueue(state.queue, item);
  },
  resumed(state, context, source, at) {
    const item = knowledgeItem(context, source, at, 'back');
    if (item) enqueue(state.queue, item);
  },
  reconfigured(state, _context, at) {
    enqueue(state.queue, { t: at, kind: 'settings' });
  },
  waiting(state) {
    const next = Math.min(state.queue[0]?.t ?? Infinity, nextTimer(state));
    return next === Infinity ? null : next;
  },
  settle(state, context, frontier, out) {
    advance(state, context, out, { rows: frontier, due: frontier });
  },
  conclude(state, context, frontier, now, out) {
    const moment = momentAt(state, context, now, out);
    const { hot, loss } = state;
    const firm: EventDraft[] = [];
    if (hot) firm.push(hotEvent(moment, hot, null));
    if (loss && loss.start.latest + moment.place.spread <= frontier) firm.push(lossEvent(moment, loss, null));
    const cautious = tentative(out, firm);
    advance(state, context, cautious, { rows: Infinity, due: frontier });
    if (state.hot) cautious.event(hotEvent(moment, state.hot, null));
    for (const event of openLosses(moment)) cautious.event(event);
    for (const [key, { silentSince }] of Object.entries(state.points))
      if (silentSince !== null && isOwnKey(context.subject, key))
        out.event(silentPoint(context.subject, key, silentSince, null));
    return { space: standingOf(moment) };
  },
};

const nextTimer = (state: SpaceState): Instant =>
  Math.min(nextChainEnd(state.points) ?? Infinity, state.due ?? Infinity);

const momentAt = (state: SpaceState, context: FoldContext, t: Instant, out: Output): SpaceMoment => ({
  state,
  context,
  place: placeAt(context, t),
  t,
  out,
});

/** How far to go: rows that have come, and what is due because nothing came. */
interface Reach {
  readonly rows: Instant;
  readonly due: Instant;
}

function advance(state: SpaceState, context: FoldContext, out: Output, reachTo: Reach): void {
  for (;;) {
    const row = state.queue[0]?.t ?? Infinity;
    const timer = nextTimer(state);
    const rowsFirst = row <= reachTo.rows && (row <= timer || timer > reachTo.due);
    if (!rowsFirst && timer > reachTo.due) return;
    const moment = momentAt(state, context, rowsFirst ? row : timer, out);
    state.moved = null;
    if (rowsFirst) for (const item of dequeueInstant(state.queue, row)) apply(moment, item);
    else
      for (const [key, edge] of closeChains(state.points, timer)) {
        reach(state, edge);
        temperatureChanged(moment, key, edge);
      }
    judge(moment);
    if (!rowsFirst) settleLosses(moment);
    state.due = earlier(abilityDue(moment), lossDue(moment));
  }
}

function judge(moment: SpaceMoment): void {
  judgeUnits(moment);
  judgeDemand(moment);
  judgeLoss(moment);
}

const earlier = (a: Instant | null, b: Instant | null): Instant | null =>
  a === null ? b : b === null ? a : Math.min(a, b);

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
