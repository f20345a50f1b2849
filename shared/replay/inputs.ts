import type { Instant } from '../base/instant.ts';
import { NO_POWER_BELOW, type ControlInputs } from '../control/state.ts';
import type { Edge } from '../inference/track.ts';
import type { Unit } from '../telemetry/site.ts';
import { edgesBetween, valueAt, type SeenHistory } from './seen-history.ts';

/** What a control sees, as it was seen from outside: edges of each input, every one an interval. */
export type InputRole = 'supply' | 'call' | 'high' | 'low';
/** in the order in which a control takes them (handbook 2.2, rule 8) */
export const INPUT_ROLES: readonly InputRole[] = ['supply', 'call', 'high', 'low'];

/** Control power as one input with three levels, for they are told from one voltage. */
export const AWAY = 0;
export const LOW = 1;
export const HEALTHY = 2;

export interface Inputs {
  /** of wired inputs alone */
  readonly edges: Readonly<Partial<Record<InputRole, readonly Edge[]>>>;
  /** V, standing for "at or above 5 V and below trip" */
  readonly lowVolts: number;
}

const HEALTHY_VOLTS = 26;
const USUAL_TRIP = 18;

/**
 * A unit's inputs from what was seen. A pressure contact in the `loop` that the call feeds is dark without the call, which
 * is no trip; a call that is fed from control power shows that power is there (handbook 2 and 4, rule 2).
 */
export function inputsOf(unit: Unit, seen: SeenHistory): Inputs {
  const wired = new Set(unit.points.map(({ signal }) => signal));
  const { edges } = seen;
  const trip = unit.protection.undervoltageTrip.value;
  const found: Partial<Record<InputRole, readonly Edge[]>> = { call: edges.call };
  const looped = (signal: string) =>
    unit.points.some((point) => point.signal === signal && point.sense === 'loop');
  if (wired.has('control-voltage')) {
    const supply = levels(edges.power, trip === null ? null : edges.healthy);
    found.supply = isOwnCall(unit) ? sharpened(supply, edges.call) : supply;
  }
  if (wired.has('high-pressure'))
    found.high = looped('high-pressure') ? litOnly(edges.high, edges.call, edges.power) : edges.high;
  if (wired.has('low-pressure'))
    found.low = looped('low-pressure') ? litOnly(edges.low, edges.call, edges.power) : edges.low;
  return { edges: found, lowVolts: (NO_POWER_BELOW + (trip ?? USUAL_TRIP)) / 2 };
}

/** Two thresholds on one voltage: where both are passed within one interval, the voltage goes straight through. */
function levels(power: readonly Edge[], healthy: readonly Edge[] | null): Edge[] {
  const marks = [...power, ...(healthy ?? [])].sort((a, b) => a.latest - b.latest || a.earliest - b.earliest);
  const found: Edge[] = [];
  for (const { earliest, latest } of marks) {
    const present = valueAt(power, latest);
    const above = healthy === null ? 1 : valueAt(healthy, latest);
    const to = present === null || above === null ? null : present === 0 ? AWAY : above === 0 ? LOW : HEALTHY;
    const from = found.at(-1)?.to ?? null;
    if (from !== to) found.push({ earliest, latest, from, to });
  }
  return found;
}

const isOwnCall = ({ points }: Unit): boolean =>
  points.some(({ signal, sense }) => signal === 'cooling-call' && sense === 'own');

/** A call that is seen again before the poll that finds control power proves the power's return. */
function sharpened(power: readonly Edge[], call: readonly Edge[]): readonly Edge[] {
  return power.map((edge) => {
    if (edge.from !== AWAY || edge.to === null) return edge;
    const proof = edgesBetween(call, edge.earliest - 1, edge.latest).find(
      ({ from, to, latest }) => from === 0 && to === 1 && latest < edge.latest,
    );
    return proof ? { ...edge, latest: proof.latest } : edge;
  });
}

/** A looped contact's trips, those left out that are only its call or its power going. */
function litOnly(trips: readonly Edge[], call: readonly Edge[], power: readonly Edge[]): readonly Edge[] {
  const kept: Edge[] = [];
  let dark = false;
  for (const edge of trips) {
    if (edge.to === 1) dark = !isLit(edge, call) || !isLit(edge, power);
    const to = edge.to === 1 && dark ? 0 : edge.to;
    const from = kept.at(-1)?.to ?? null;
    if (from !== to) kept.push({ ...edge, from, to });
  }
  return kept;
}

/** What feeds the loop was there when the contact opened, and didn't go within the same interval. */
function isLit(edge: Edge, feed: readonly Edge[]): boolean {
  if (feed.length === 0) return true;
  const goes = edgesBetween(feed, edge.earliest - 1, edge.latest).some(({ to }) => to === 0);
  return valueAt(feed, edge.earliest) === 1 && !goes;
}

export type InputValues = Readonly<Record<InputRole, number>>;

/** Each input's value at an instant that no interval holds. One that isn't wired or known counts as quiet and healthy. */
export const valuesAt = ({ edges }: Inputs, at: Instant): InputValues => {
  const value = (role: InputRole, quiet: number): number => valueAt(edges[role] ?? [], at) ?? quiet;
  return {
    supply: value('supply', HEALTHY),
    call: value('call', 0),
    high: value('high', 0),
    low: value('low', 0),
  };
};

export const controlInputs = ({ lowVolts }: Inputs, values: InputValues): ControlInputs => ({
  controlVoltage: values.supply === AWAY ? 0 : values.supply === LOW ? lowVolts : HEALTHY_VOLTS,
  call: values.call === 1,
  highPressureOpen: values.high === 1,
  lowPressureOpen: values.low === 1,
});
