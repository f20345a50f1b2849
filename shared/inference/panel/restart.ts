import { seconds, type Instant } from '../../base/instant.ts';
import { later, type Span } from '../../base/span.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { UnitEdge } from '../edge.ts';
import type { UnitPicture } from '../members/picture.ts';
import { overAfter, plannedPowerUp, powerUpBounds, wireOf } from '../members/wired.ts';
import { atReturn, closeSequence } from './restart-event.ts';
import { anyAwaited, backOf, lastReturn, resolve } from './sequence.ts';
import type { PanelMoment, Restart, Sequence } from './state.ts';
import { levelOf } from './supply.ts';

/**
 * What becomes of each unit after a power return (handbook 5.3). Planned is the later of the end of the power-up delay and
 * the call's return. "Didn't come back" needs a call that is present, past its delay; without a call contact a unit is
 * given the thermostat's own delay and a minute more.
 */
const MINUTE_MORE = 60;

/** A start ends the wait of a unit that was awaited; one past its time is still this unit's restart. */
const AWAITED = new Set<Restart['outcome']>([
  'waiting',
  'overdue',
  'no-call',
  'not-known',
  'held-off',
  'locked-out',
]);

/** Answers whether the start is a restart after this power return. */
export function takeRestart(moment: PanelMoment, edge: UnitEdge): boolean {
  const { state, place } = atReturn(moment);
  const { sequence } = state;
  const restart = sequence?.members[edge.unit];
  const unit = place.unit(edge.unit);
  if (!sequence || !restart || !unit || !AWAITED.has(restart.outcome)) return false;
  const back = backOf(sequence, restart);
  if (!back || edge.span.latest < back.earliest) return false;
  resolve(restart, 'started', edge.span);
  plan(restart, back, unit, state.units[edge.unit]!);
  return true;
}

/** The call came back at the very start that it set off: the plan follows it. */
export function takeCall(moment: PanelMoment, edge: UnitEdge): void {
  const { state, place } = atReturn(moment);
  const restart = state.sequence?.members[edge.unit];
  const unit = place.unit(edge.unit);
  if (!unit || restart?.outcome !== 'started' || edge.span.earliest > restart.at!.latest) return;
  plan(restart, backOf(state.sequence!, restart)!, unit, state.units[edge.unit]!);
}

function plan(restart: Restart, back: Span, unit: Unit, picture: UnitPicture): void {
  const nominal = plannedPowerUp(unit.protection);
  const ready = overAfter(back, [nominal, nominal]);
  const { call } = picture;
  const returned = call.on && call.since && call.since.latest >= back.earliest ? call.since : null;
  restart.planned = returned ? later(ready, returned) : ready;
  restart.by = setBy(restart.at!, overAfter(back, powerUpBounds(unit.protection)), returned, call.on);
}

/** What set the start: the wait's end lies after the call's return, before it, or it can't be told. */
function setBy(start: Span, ready: Span, returned: Span | null, called: boolean | null): Restart['by'] {
  if (returned && returned.earliest > ready.latest) return 'call';
  if (called && (!returned || returned.latest < ready.earliest)) return 'wait';
  if (start.latest < ready.earliest) return 'wait';
  return start.earliest <= ready.latest ? 'wait' : 'unknown';
}

/** When each unit that is still awaited is given up, and when the sequence can be closed. */
export function restartDue(moment: PanelMoment): Instant | null {
  const { state, place } = atReturn(moment);
  const { sequence } = state;
  if (!sequence) return null;
  if (!anyAwaited(sequence)) return closesAt(sequence, place.spread);
  let due: Instant | null = null;
  for (const [id, restart] of Object.entries(sequence.members)) {
    if (restart.outcome !== 'waiting') continue;
    const at = givenUpAt(sequence, restart, place.unit(id), state.units[id] ?? null) + place.spread;
    if (due === null || at < due) due = at;
  }
  return due;
}

const closesAt = (sequence: Sequence, spread: number): Instant =>
  Math.max(
    lastReturn(sequence),
    ...Object.values(sequence.members).map(({ outcome, at }) =>
      outcome === 'started' ? at!.latest : -Infinity,
    ),
  ) + spread;

function givenUpAt(
  sequence: Sequence,
  restart: Restart,
  unit: Unit | null,
  picture: UnitPicture | null,
): Instant {
  const back = backOf(sequence, restart);
  if (!unit) return lastReturn(sequence);
  const [, longest] = powerUpBounds(unit.protection);
  const ready = (back?.latest ?? lastReturn(sequence)) + longest;
  if (back && picture?.call.on) return Math.max(ready, picture.call.since?.latest ?? ready);
  return ready + seconds(unit.thermostatDelaySeconds + MINUTE_MORE);
}

/** Something about the sequence is due at this instant. */
export function passRestarts(moment: PanelMoment): void {
  const { state, place, t } = atReturn(moment);
  const { sequence } = state;
  if (!sequence) return;
  for (const [id, restart] of Object.entries(sequence.members)) {
    if (restart.outcome !== 'waiting') continue;
    const unit = place.unit(id);
    const at = givenUpAt(sequence, restart, unit, state.units[id] ?? null);
    if (at + place.spread <= t) passOne(moment, sequence, restart, unit, id, at);
  }
  if (!anyAwaited(sequence) && closesAt(sequence, place.spread) <= t) closeSequence(moment);
}

function passOne(
  { state }: PanelMoment,
  sequence: Sequence,
  restart: Restart,
  unit: Unit | null,
  id: string,
  at: Instant,
): void {
  const outcome = whatBecame(
    restart,
    unit,
    state.units[id] ?? null,
    levelOf(state.points, 'generator-running'),
  );
  const back = backOf(sequence, restart);
  if (outcome !== 'overdue' || !back || !unit) return resolve(restart, outcome, null);
  resolve(restart, outcome, { earliest: at - (back.latest - back.earliest), latest: at });
  plan(restart, back, unit, state.units[id]!);
  restart.by = null;
}

function whatBecame(
  restart: Restart,
  unit: Unit | null,
  picture: UnitPicture | null,
  generator: number | null,
): Restart['outcome'] {
  if (!unit || !picture || !wireOf(unit, 'run') || picture.run.on === null) return 'not-known';
  if (picture.run.on) return 'not-lost';
  if (generator === 1 && !unit.allowedOnGenerator) return 'held-off';
  if (restart.loss && !restart.back) return 'no-power';
  if (picture.latched) return 'locked-out';
  if (!wireOf(unit, 'call')) return 'overdue';
  return picture.call.on === null ? 'not-known' : picture.call.on ? 'overdue' : 'no-call';
}
