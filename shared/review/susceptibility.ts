import type { Bounds } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import { dipOf } from './disturbances.ts';
import { rideThrough } from './ride-through.ts';
import type { Unit } from '../telemetry/site.ts';

/**
 * The line residual at which a unit drops, learned from the dips it ran through and those it didn't (handbook 5.2). A drop
 * at a residual of [a, b] says that it drops somewhere above a; a ride-through at [c, d] that it doesn't drop at d. Where
 * the two contradict each other it has no one level: how long the dip lasts, and where on the wave it begins, matter.
 */
export interface Susceptibility {
  /** dips with a residual in which it was running, and how many of them dropped it */
  readonly events: number;
  readonly drops: number;
  /** per unit: the highest residual at which it dropped; null: it never did */
  readonly droppedAt: Bounds | null;
  /** the lowest residual that it rode through; null: it rode through none */
  readonly rodeAt: Bounds | null;
  /** it drops below some level in here, per unit; null: the events contradict one level, or there are none */
  readonly level: Bounds | null;
  readonly contradicts: boolean;
}

export interface Dipped {
  /** a sag or an interruption with its residual */
  readonly dip: EventDraft;
  /** the unit's events that touch it */
  readonly events: readonly EventDraft[];
}

export function susceptibilityOf(unit: Unit, dips: readonly Dipped[]): Susceptibility {
  const seen = dips.flatMap(({ dip, events }) => {
    const { residual, ...stretch } = dipOf(dip);
    if (residual === null) return [];
    const { outcome } = rideThrough({
      unit,
      events,
      disturbances: [stretch],
      outcomes: [],
      unknown: [],
      knownThrough: Infinity,
      until: stretch.to?.latest ?? stretch.from.latest,
    });
    return outcome === 'dropped' || outcome === 'rode-through' ? [{ outcome, residual }] : [];
  });
  const dropped = seen.filter(({ outcome }) => outcome === 'dropped').map(({ residual }) => residual);
  const rode = seen.filter(({ outcome }) => outcome === 'rode-through').map(({ residual }) => residual);
  const droppedAt = extreme(dropped, (a, b) => b[0] - a[0]);
  const rodeAt = extreme(rode, (a, b) => a[1] - b[1]);
  const level: Bounds = [droppedAt?.[0] ?? 0, rodeAt?.[1] ?? 1];
  const contradicts = level[0] > level[1];
  return {
    events: seen.length,
    drops: dropped.length,
    droppedAt,
    rodeAt,
    level: seen.length === 0 || contradicts ? null : level,
    contradicts,
  };
}

const extreme = (all: readonly Bounds[], order: (a: Bounds, b: Bounds) => number): Bounds | null =>
  [...all].sort(order)[0] ?? null;
