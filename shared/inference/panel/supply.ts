import type { SignalName } from '../../telemetry/signals.ts';
import type { Span } from '../../base/span.ts';
import type { OwnPoints } from '../members/own-points.ts';
import type { Place } from '../members/place.ts';
import { signalOfKey } from '../members/queue.ts';
import type { Edge, Value } from '../track.ts';
import { pointKey } from '../sources.ts';
import type { PanelState, Supply, SupplyOutage } from './state.ts';

/**
 * Whether the panel has power, from its own points: line voltage, and where none is known the utility contact, with the
 * generator in its place. Below 10 % of the declared voltage on every channel there is none; it is back when one channel
 * is at or above 12 % [IEC 61000-4-30, interruption threshold and hysteresis, handbook 5.1].
 */
const GONE = 0.1;
const BACK = 0.12;

/** Where a line voltage stands: 1 there, 0 gone, as before in between. */
export function lineLevel(volts: number, nominal: number, was: Value): number {
  if (volts < GONE * nominal) return 0;
  return volts >= BACK * nominal ? 1 : (was ?? 1);
}

export const isLine = (signal: SignalName): boolean => signal.startsWith('line-voltage');

type Word = Pick<Supply, 'on' | 'by'>;

/** Is there power, and which points say so; null: not known. */
export function supplyNow(points: OwnPoints): Word {
  const line = Object.entries(points)
    .filter(([key]) => isLine(signalOfKey(key)))
    .map(([, { level }]) => level);
  if (line.some((level) => level !== null)) {
    const on = line.includes(1) ? true : line.includes(null) ? null : false;
    return { on, by: 'line' };
  }
  return utilityNow(points);
}

/** The same by the utility contact alone. */
export function utilityNow(points: OwnPoints): Word {
  const failed = levelOf(points, 'utility-failed');
  if (failed === null) return { on: null, by: null };
  return { on: failed === 0 || levelOf(points, 'generator-running') === 1, by: 'utility' };
}

/** A contact of the panel, else the same one of the site: 1 asserted, 0 not, null not known. */
export function levelOf(points: OwnPoints, signal: SignalName): Value {
  const found = Object.entries(points).filter(([key]) => signalOfKey(key) === signal);
  const own = found.find(([key]) => !key.startsWith('site/')) ?? found[0];
  return own?.[1].level ?? null;
}

/** Changes that are kept. */
const CHANGES_KEPT = 32;

/** An own point's change, kept if it shows power going or coming back. */
export function noteSupplyChange(state: PanelState, key: string, edge: Edge): void {
  const signal = signalOfKey(key);
  if (edge.from === null || edge.to === null || !(isLine(signal) || signal === 'utility-failed')) return;
  const away = isLine(signal) ? edge.to === 0 : edge.to === 1;
  const change = { key, to: away ? ('away' as const) : ('back' as const) };
  state.supplyEdges.push({ ...change, earliest: edge.earliest, latest: edge.latest });
  if (state.supplyEdges.length > CHANGES_KEPT) state.supplyEdges.shift();
}

/** An own point has changed within `span`: answers the outage that it ended, if it did. */
export function takeSupplyChange(supply: Supply, { on, by }: Word, span: Span): SupplyOutage | null {
  if (on === supply.on) return null;
  const wasAway = supply.on === false ? supply.since : null;
  if (wasAway)
    supply.dark = { earliest: wasAway.earliest, latest: span.latest, since: wasAway.latest, by: supply.by };
  supply.on = on;
  supply.since = span;
  const before = supply.by;
  supply.by = by;
  if (on !== true || wasAway === null || by === null || before !== by) return null;
  supply.outage = { away: wasAway, back: span, by };
  return supply.outage;
}

/** Is every wired point of the supply known? One that isn't may yet tell of an outage or an earlier return. */
export const isSupplyKnown = ({ points }: PanelState, place: Place): boolean =>
  place.points.every((point) => !isOfSupply(point.signal) || points[pointKey(point)]?.level != null);

const isOfSupply = (signal: SignalName): boolean => isLine(signal) || signal === 'utility-failed';
