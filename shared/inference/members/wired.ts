import { seconds } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import type { Point, Protection, Site, Unit } from '../../telemetry/site.ts';
import type { EdgeOf } from '../edge.ts';
import { SILENT_PERIODS } from '../horizon.ts';

/** What the configuration says of a member unit: which of its states are wired, how coarse, and how long its delays are. */

/** Signals that a state is read from, the first wired one first (handbook 4 rule 1). */
const READ_FROM: Readonly<Record<EdgeOf, readonly SignalName[]>> = {
  run: ['compressor-output', 'contactor-voltage', 'compressor-current'],
  power: ['control-voltage'],
  call: ['cooling-call'],
};

const STATES = Object.keys(READ_FROM) as EdgeOf[];

/** The point that a unit's state is read from; null where it isn't wired. */
export function wireOf(unit: Unit, state: EdgeOf): Point | null {
  for (const signal of READ_FROM[state]) {
    const point = unit.points.find((one) => one.signal === signal);
    if (point) return point;
  }
  return null;
}

/** How coarse a point's edges are, in seconds: their width while samples come as they should. */
export const coarseness = (point: Point): number =>
  point.reporting.mode === 'polled' ? point.reporting.seconds : 2 * point.resolutionSeconds;

/** An edge that may lie at or before an instant has come by this much later: three polling periods, else it is silence. */
export function spreadOf(units: readonly Unit[]): number {
  const points = units.flatMap((unit) => STATES.flatMap((state) => wireOf(unit, state) ?? []));
  return seconds(Math.max(0, ...points.map((point) => coarseness(point) * SILENT_PERIODS)));
}

/** Seconds by which times of two points may differ beside their own spans: nothing on one gateway (handbook 3). */
export function clockDoubt(site: Site, a: Point | null, b: Point | null): number {
  if (!a || !b || a.gateway === b.gateway) return 0;
  return [a, b].reduce((sum, point) => {
    const gateway = site.gateways.find((one) => one.id === point.gateway);
    return sum + (gateway?.clockUncertaintySeconds ?? 0);
  }, 0);
}

/** The range of an off-cycle delay that nobody wrote down, seconds (handbook 2.1) */
export const OFF_DELAY_RANGE = [30, 300] as const;

/** The off-cycle delay, in µs [low, high]: tolerance and hand setting about a recorded one, the whole range where assumed. */
export function offDelayBounds(protection: Protection): readonly [number, number] {
  const [low, high] = settingBounds(protection);
  return [seconds(low * (1 - protection.tolerance)), seconds(high * (1 + protection.tolerance))];
}

/** The power-up delay, in µs [low, high], likewise. */
export function powerUpBounds(protection: Protection): readonly [number, number] {
  const { powerUpBase, powerUpShare, tolerance } = protection;
  const [low, high] = settingBounds(protection);
  return [
    seconds((powerUpBase.value + powerUpShare.value * low) * (1 - tolerance)),
    seconds((powerUpBase.value + powerUpShare.value * high) * (1 + tolerance)),
  ];
}

function settingBounds({ offDelay, settingError }: Protection): readonly [number, number] {
  if (offDelay.known === 'assumed') return OFF_DELAY_RANGE;
  return [Math.max(0, offDelay.value - settingError), offDelay.value + settingError];
}

/** The power-up delay as the settings say it, µs. */
export const plannedPowerUp = ({ powerUpBase, powerUpShare, offDelay }: Protection): number =>
  seconds(powerUpBase.value + powerUpShare.value * offDelay.value);

/** When a delay that begins within `from` is over. */
export const overAfter = (from: Span, [low, high]: readonly [number, number]): Span => ({
  earliest: from.earliest + low,
  latest: from.latest + high,
});
