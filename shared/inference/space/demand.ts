import { exactly, later, type Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import { BEGINNING } from '../horizon.ts';
import type { UnitPicture } from '../members/picture.ts';
import { besideOf } from './ability.ts';
import type { Demand, SpaceMoment } from './state.ts';
import { callMeansCooling } from './waits.ts';

/**
 * Is cooling wanted and not given: a call that waits, or the space above its limit (handbook 6). A hard lockout lasts no
 * longer than its call, so it stands for a call that isn't wired. Without control power no call can be seen; the one that
 * was there when power went is taken to wait on, and isn't certain.
 */
export function judgeDemand(moment: SpaceMoment): void {
  const { state } = moment;
  const now = state.hot ? hotDemand(state.hot.start) : waitingCall(moment);
  state.demand = now && (state.demand ?? now);
}

const hotDemand = (since: Span): Demand => ({
  since,
  certain: true,
  unit: null,
  says: 'the space is above its limit',
});

function waitingCall({ state, place, t }: SpaceMoment): Demand | null {
  let first: Demand | null = null;
  for (const unit of place.units) {
    const picture = state.units[unit.id];
    if (!picture || !callMeansCooling(unit)) continue;
    const demand = demandOf(unit, picture, besideOf(state, unit.id).calledAtLoss, exactly(t));
    if (demand && (!first || demand.since.latest < first.since.latest)) first = demand;
  }
  return first;
}

function demandOf(unit: Unit, picture: UnitPicture, calledAtLoss: boolean, now: Span): Demand | null {
  const { call, run, power, latched, failed } = picture;
  const about = { unit: unit.id };
  if (call.on === true && (run.on === false || failed))
    return {
      ...about,
      since: later(call.since ?? EVER, failed?.since ?? run.since ?? EVER),
      certain: (call.since === null || call.certain) && (run.since === null || run.certain),
      says: 'its call waits',
    };
  const stands = latched ?? failed;
  if (stands && call.on === null)
    return {
      ...about,
      since: stands.since,
      certain: stands.certain,
      says: 'a lockout lasts no longer than its call',
    };
  if (power.on === false && calledAtLoss)
    return { ...about, since: power.since ?? now, certain: false, says: 'it was called when its power went' };
  return null;
}

/** before anything that was seen */
const EVER: Span = exactly(BEGINNING);
