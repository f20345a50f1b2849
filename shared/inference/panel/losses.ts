import type { UnitEdge } from '../edge.ts';
import { wireOf } from '../members/wired.ts';
import { closeSequence } from './restart-event.ts';
import { anyStarted, awaiting, giveUp, isSameOutage, resolve, touches } from './sequence.ts';
import type { Loss, PanelMoment, PanelState, Sequence, SupplyOutage } from './state.ts';

/**
 * Power away and back, per unit and by the panel's own points, grouped into restart sequences (handbook 5.3).
 *
 * A sequence opens with the first return and takes in every unit whose loss overlaps that outage. Power that goes again
 * before anyone has started begins the wait anew (reclosing): those units leave the sequence and come back with the next
 * return, their losses counted. Once someone has started, the next loss is an outage of its own: what was still awaited
 * is `lost-again`. A return transfer from the generator is just that.
 */
export function takePowerAway({ state }: PanelMoment, edge: UnitEdge): void {
  const { sequence } = state;
  const restart = sequence?.members[edge.unit];
  if (!sequence || !restart) {
    const loss = newLoss(edge, null);
    if (sequence && isSameOutage(sequence, loss)) sequence.members[edge.unit] = awaiting(loss, null, false);
    else state.losses[edge.unit] = loss;
    return;
  }
  const anew = restart.outcome === 'waiting' && !anyStarted(sequence);
  state.losses[edge.unit] = newLoss(edge, anew ? restart.loss : null);
  if (anew) leave(state, sequence, edge.unit);
  else if (restart.outcome === 'waiting') resolve(restart, 'lost-again', null);
}

export function takePowerBack(moment: PanelMoment, edge: UnitEdge): void {
  const { state } = moment;
  const away = state.sequence?.members[edge.unit];
  const loss = state.losses[edge.unit] ?? (away?.back === null ? away.loss : null);
  if (!loss) return;
  state.losses = without(state.losses, edge.unit);
  if (state.sequence && loss !== away?.loss && loss.count === 1 && !isSameOutage(state.sequence, loss)) {
    if (!isPanelWide(state, loss)) return;
    abandon(moment);
  }
  const sequence = open(state);
  sequence.members[edge.unit] = awaiting(loss, edge.span, edge.certain);
  gather(moment, sequence);
}

/** The panel's own points saw the end of an outage. */
export function takeSupplyReturn(moment: PanelMoment, outage: SupplyOutage): void {
  const { state, place } = moment;
  const { sequence } = state;
  if (sequence && touches(sequence, outage.away, outage.back)) {
    sequence.supply = outage;
    return;
  }
  const wired = sequence && Object.values(sequence.members).some(({ loss }) => loss);
  const unwired = place.units.some((unit) => !wireOf(unit, 'power'));
  if (wired || (!unwired && Object.keys(state.losses).length === 0)) return;
  if (sequence && anyStarted(sequence)) abandon(moment);
  const begun = open(state);
  begun.supply = outage;
  gather(moment, begun);
}

const without = <T>(record: Readonly<Record<string, T>>, key: string): Record<string, T> =>
  Object.fromEntries(Object.entries(record).filter(([name]) => name !== key));

const open = (state: PanelState): Sequence => (state.sequence ??= { members: {}, supply: null });

/** Another outage is over before this sequence is. */
function abandon(moment: PanelMoment): void {
  giveUp(moment.state.sequence!);
  closeSequence(moment);
}

/** Units still away in this outage, the panel's own word on it, and units whose power isn't wired. */
function gather({ state, place }: PanelMoment, sequence: Sequence): void {
  for (const [unit, loss] of Object.entries(state.losses)) {
    if (!isSameOutage(sequence, loss)) continue;
    sequence.members[unit] = awaiting(loss, null, false);
    state.losses = without(state.losses, unit);
  }
  const { outage } = state.supply;
  if (outage && !sequence.supply && touches(sequence, outage.away, outage.back)) sequence.supply = outage;
  for (const unit of place.units)
    if (!wireOf(unit, 'power')) sequence.members[unit.id] ??= awaiting(null, null, true);
}

const newLoss = (edge: UnitEdge, before: Loss | null): Loss => ({
  away: edge.span,
  first: before?.first ?? edge.span,
  count: (before?.count ?? 0) + 1,
  certain: edge.certain && (before?.certain ?? true),
});

/** The sequence without this unit; gone with the last whose power was seen to return. */
function leave(state: PanelState, sequence: Sequence, unit: string): void {
  sequence.members = without(sequence.members, unit);
  const left = Object.entries(sequence.members);
  if (left.some(([, { back }]) => back !== null)) return;
  for (const [id, { loss }] of left) if (loss) state.losses[id] = loss;
  state.sequence = null;
}

/** A loss that isn't one unit's own: others are away too, or the panel's own points saw it. */
const isPanelWide = ({ losses, supply }: PanelState, loss: Loss): boolean =>
  Object.keys(losses).length > 0 ||
  supply.on === false ||
  (supply.outage !== null && supply.outage.back.latest >= loss.away.earliest);
