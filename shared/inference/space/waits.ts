import { seconds, type Instant } from '../../base/instant.ts';
import type { Unit } from '../../telemetry/site.ts';
import type { UnitPicture } from '../members/picture.ts';
import { offDelayBounds, overAfter, powerUpBounds, wireOf } from '../members/wired.ts';
import type { Beside } from './state.ts';

/**
 * Waits that end by themselves: off-cycle delay, power-up delay, soft lockout or undervoltage hold before the retry. None
 * is a loss of cooling until it is overdue (handbook 6), and overdue needs a call seen at the control's own terminal:
 * sensed upstream, an economiser or an interlock may hold the unit off quite properly.
 */

/** a call outside every wait is answered at once; give it this long, µs [our choice] */
const AT_ONCE = seconds(10);

/** Does a call of this unit mean that cooling is wanted (handbook 1, limits of the first version)? */
export const callMeansCooling = (unit: Unit): boolean =>
  unit.equipment === 'cooling-only' && !unit.dehumidification;

/** By when a called unit must have started; null where no start can be demanded of it. */
export function startDue(unit: Unit, picture: UnitPicture, beside: Beside): Instant | null {
  const { run, power, call } = picture;
  const own = wireOf(unit, 'call')?.sense === 'own';
  if (!own || !callMeansCooling(unit) || !call.on || run.on !== false) return null;
  if (picture.latched || power.on === false || call.from === null) return null;
  if (call.since)
    return Math.max(call.since.latest + AT_ONCE, waitOver(unit, picture, beside) ?? call.since.latest);
  return waitOver(unit, picture, beside) ?? call.from + longestWait(unit);
}

/** Seen first in the middle of something: any wait may just have begun. */
const longestWait = ({ protection }: Unit): number =>
  Math.max(offDelayBounds(protection)[1], powerUpBounds(protection)[1]);

/** When every wait that the unit may be in is over at the latest; null: it is in none. */
function waitOver(unit: Unit, { run, power, call, held }: UnitPicture, beside: Beside): Instant | null {
  const off = offDelayBounds(unit.protection);
  const over: Instant[] = [];
  if (run.since) over.push(overAfter(run.since, off).latest);
  if (power.on && power.since) over.push(overAfter(power.since, powerUpBounds(unit.protection)).latest);
  if (held) over.push(held.since.latest + Math.max(off[1], seconds(held.wait?.[1] ?? 0)));
  const again = beside.callOff && overAfter(beside.callOff, off);
  if (again && call.since && unit.protection.offDelayFrom.value !== 'stop')
    if (call.since.earliest < again.latest) over.push(overAfter(call.since, off).latest);
  return over.length > 0 ? Math.max(...over) : null;
}

/**
 * Is the unit, at `t`, in a wait that began before its call or holds it off now? Where the call isn't wired, only what
 * holds any unit counts: a soft lockout, a hold, the power-up delay.
 */
export function waitsAt(unit: Unit, picture: UnitPicture, beside: Beside, t: Instant): boolean {
  if (picture.held) return true;
  const due = startDue(unit, picture, beside);
  if (due !== null) return due > (picture.call.since?.latest ?? picture.call.from!) + AT_ONCE;
  return picture.call.on === null && picture.run.on === false && t < powerUpOver(unit, picture);
}

export const powerUpOver = (unit: Unit, { power }: UnitPicture): Instant =>
  power.on && power.since ? overAfter(power.since, powerUpBounds(unit.protection)).latest : 0;
