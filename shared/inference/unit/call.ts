import type { Span } from '../../base/span.ts';
import type { EdgeOf } from '../edge.ts';
import { edgeTo, holds, sinceOf, type Edge } from '../track.ts';
import { endHard, endHold, endSoftAtBreak } from './lockout.ts';
import { doubt, inOwnTime, tell, type Moment } from './moment.ts';

/**
 * The cooling call and control power: what their coming and going begins and ends. "The same call" ends when either goes;
 * where both go together, power explains both (handbook 2.2, 7).
 */
export function callChanged(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const at = sinceOf(belief.tracks.call, edge);
  if (!tellKnowledge(moment, edge, 'call')) return;
  if (edge.to === 1) {
    if (edge.from !== null) belief.call = { since: at, stops: [] };
    else belief.call ??= { since: null, stops: [], unexplained: true };
    if (edge.from === 0) tell(moment, 'call-on', inOwnTime(moment, 'call', at));
    return;
  }
  const power = edgeTo(moment.belief.tracks.power, 0, at.earliest, at.latest);
  const powered = isPowered(moment, at);
  const narrow =
    moment.wiring.byRole.call?.onChange === true && moment.wiring.byRole.call.point.sense !== 'upstream';
  endAll(moment, at, power ? 'power-broken' : 'call-broken', !power && powered && narrow);
  belief.call = null;
  belief.callBreak = at;
  if (edge.from === 1) tell(moment, 'call-off', inOwnTime(moment, 'call', at));
}

/** Tells that a state became unknown or known; false if that is all there is to say. */
function tellKnowledge(moment: Moment, edge: Edge, of: EdgeOf): boolean {
  const at = inOwnTime(moment, of === 'call' ? 'call' : 'power', edge);
  if (edge.to === null) {
    tell(moment, 'unknown', at, true, { of });
    if (moment.belief.call && mayEndUnseen(moment, of)) moment.belief.call.unexplained = true;
    doubt(moment, edge.earliest);
  } else if (edge.from === null) tell(moment, 'known', at, true, { of, now: edge.to });
  return edge.to !== null;
}

/**
 * May this call have ended unseen, and another begun? Not by a loss of power alone where the call is sensed at the control's
 * own terminal, which that power feeds: it stays only while power does.
 */
const mayEndUnseen = ({ wiring }: Moment, lost: EdgeOf): boolean =>
  lost === 'call' || wiring.byRole.call?.point.sense === 'upstream';

/** Was control power seen present through the call's end without a break? A poll can miss an outage. */
function isPowered({ wiring, belief }: Moment, at: Span): boolean {
  const wire = wiring.byRole.power;
  return !!wire?.onChange && holds(belief.tracks.power, 1, at.earliest, at.latest + wiring.lookAhead);
}

export function powerChanged(moment: Moment, edge: Edge): void {
  const { belief } = moment;
  const at = sinceOf(belief.tracks.power, edge);
  if (!tellKnowledge(moment, edge, 'power')) return;
  if (edge.to === 0) {
    if (belief.powerAway) return;
    belief.powerAway = at;
    belief.powerBack = null;
    const narrow = moment.wiring.byRole.power?.onChange === true;
    endAll(moment, at, 'power-broken', narrow);
    if (belief.call) belief.call = { since: belief.call.since, stops: [] };
    if (edge.from === 1) tell(moment, 'power-away', inOwnTime(moment, 'power', at));
    return;
  }
  if (!belief.powerAway) return;
  belief.powerAway = null;
  belief.powerBack = at;
  if (edge.from === 0) tell(moment, 'power-back', inOwnTime(moment, 'power', at));
}

function endAll(moment: Moment, at: Span, by: 'call-broken' | 'power-broken', sure: boolean): void {
  endSoftAtBreak(moment, at);
  endHold(moment, at);
  endHard(moment, at, by, sure);
  moment.belief.overdueAt = null;
}
