import { seconds, type Instant } from '../../base/instant.ts';
import { exactly, later, overlap, shifted, type Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { UnitEdge } from '../edge.ts';
import { newPicture, takeIntoPicture, type UnitPicture } from '../members/picture.ts';
import { startDue, powerUpOver, waitsAt } from './waits.ts';
import type { Beside, SpaceMoment, SpaceState, Unable } from './state.ts';

/**
 * Which units can't run, why and since when (handbook 6): hard lockout, no power, failed start, three undervoltage holds
 * in a row each within 10 s of a start; and waits that end by themselves once overdue, or while the space is above its
 * limit. A unit of which nothing is known counts as able: it proves no loss.
 */
const HOLDS_IN_ROW = 3;
/** a run that lasted so long wasn't dropped at its start, µs */
const OUTLASTED = seconds(10);

export function takeUnitEdge({ state }: SpaceMoment, edge: UnitEdge): void {
  const picture = (state.units[edge.unit] ??= newPicture());
  const beside = besideOf(state, edge.unit);
  if (edge.kind === 'power-away') beside.calledAtLoss = wasCalled(picture, edge.span);
  takeIntoPicture(picture, edge);
  if (edge.kind === 'power-back') beside.calledAtLoss = false;
  if (edge.kind === 'call-off') beside.callOff = edge.span;
  if (edge.kind === 'power-away' || edge.kind === 'call-off') beside.dropping = null;
  if (edge.kind === 'held' && picture.holdsInRow >= HOLDS_IN_ROW) beside.dropping ??= edge.span;
}

export const besideOf = (state: SpaceState, unit: string): Beside =>
  (state.beside[unit] ??= { callOff: null, calledAtLoss: false, dropping: null });

/** Called, or running, when power went; a call that went with the power counts (handbook 4 rule 2, power first). */
function wasCalled({ call, run }: UnitPicture, away: Span): boolean {
  const known = call.on === null ? run : call;
  return known.on === true || (known.on === false && known.since !== null && overlap(known.since, away));
}

/** Works out anew which units can't run. */
export function judgeUnits(moment: SpaceMoment): void {
  const { state, place } = moment;
  const unable: Record<string, Unable> = {};
  for (const unit of place.units) {
    const found = inabilityOf(moment, unit);
    if (found) unable[unit.id] = state.unable[unit.id] ?? found;
  }
  state.unable = unable;
}

function inabilityOf({ state, place, t }: SpaceMoment, unit: Unit): Unable | null {
  const picture = state.units[unit.id];
  if (!picture) return null;
  const beside = besideOf(state, unit.id);
  const { power, run } = picture;
  if (picture.latched) return { ...picture.latched, reason: 'hard-lockout' };
  if (power.on === false)
    return {
      since: power.since ?? exactly(t),
      certain: power.certain && power.since !== null,
      reason: 'no-power',
    };
  if (picture.failed) return { ...picture.failed, reason: 'failed-start' };
  passDropping(state, beside, run.on === true ? run.since : null, t);
  if (beside.dropping) return { since: beside.dropping, certain: true, reason: 'undervoltage-holds' };
  const due = startDue(unit, picture, beside);
  if (due !== null && due + place.spread <= t)
    return { since: exactly(due), certain: false, reason: 'overdue' };
  if (!state.hot || !waitsAt(unit, picture, beside, t)) return null;
  const since = picture.held?.since ?? run.since ?? power.since;
  return {
    since: since ? later(since, state.hot.start) : state.hot.start,
    certain: false,
    reason: 'waits-while-hot',
  };
}

function passDropping(state: SpaceState, beside: Beside, runSince: Span | null, t: Instant): void {
  if (!beside.dropping || !runSince || runSince.latest + OUTLASTED > t) return;
  beside.dropping = null;
  reach(state, shifted(runSince, OUTLASTED));
}

/** What was applied at this instant happened within this span. */
export function reach(state: SpaceState, { earliest, latest }: Span): void {
  const { moved } = state;
  state.moved = moved
    ? { earliest: Math.min(moved.earliest, earliest), latest: Math.max(moved.latest, latest) }
    : { earliest, latest };
}

/** When a unit's ability may next change without an edge; null: it won't. */
export function abilityDue({ state, place, t }: SpaceMoment): Instant | null {
  let due: Instant | null = null;
  const add = (at: Instant): void => {
    if (at > t && (due === null || at < due)) due = at;
  };
  for (const unit of place.units) {
    const picture = state.units[unit.id];
    if (!picture) continue;
    const beside = besideOf(state, unit.id);
    const start = startDue(unit, picture, beside);
    if (start !== null) add(start + place.spread);
    if (beside.dropping && picture.run.on && picture.run.since) add(picture.run.since.latest + OUTLASTED);
    if (state.hot && picture.call.on === null) add(powerUpOver(unit, picture));
  }
  return due;
}
