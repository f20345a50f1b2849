import type { Instant } from '../base/instant.ts';
import type { ControlReason } from '../control/state.ts';
import type { Change } from './align.ts';
import type { Departure } from './departures.ts';
import { AWAY, type Inputs } from './inputs.ts';
import { edgesBetween } from './seen-history.ts';
import type { Segment } from './segments.ts';

/**
 * How far does the record carry a replay? What follows from power and time alone it carries. Once the replayed output has
 * parted from the seen one, what leans on the call, the pressures or the voltage holds only if they had done as seen. Where
 * the compressor would have run unseen, or where a switch opened or the call ended because it did run, the record can't say
 * anything until both stand alike again.
 */
export type Doubt = 'call' | 'pressure' | 'voltage';

export type BeyondReason =
  /** it would have run while it was seen off: nothing shows what its pressures would have done */
  | 'runs-unseen'
  /** it runs on where it was seen to stop */
  | 'runs-on-unseen'
  /** a pressure switch opened while it ran, and replayed it is held off then */
  | 'switch-opened-running'
  /** the call ended because it ran, and replayed it is held off then */
  | 'call-ended-running'
  /** the order of what happened isn't known well enough */
  | 'order-not-known'
  /** one of its signals wasn't known */
  | 'signal-lost'
  /** nothing to begin from yet */
  | 'not-begun';

export interface Beyond {
  readonly from: Instant;
  readonly to: Instant;
  readonly why: BeyondReason;
}

export interface CarriedChange extends Change {
  /** empty: carried by the record */
  readonly leansOn: readonly Doubt[];
}

export interface Carried {
  readonly changes: readonly CarriedChange[];
  readonly beyond: readonly Beyond[];
  /** from here on it holds if the call, the pressures and the voltage had done as seen; null: never parted */
  readonly leansFrom: Instant | null;
}

export function carry(
  inputs: Inputs,
  { from, to }: Segment,
  changes: readonly Change[],
  departures: readonly Departure[],
): Carried {
  const beyond: Beyond[] = [];
  const doubts = new Map<Doubt, Instant>();
  const doubting = (at: Instant, ...more: Doubt[]) => {
    for (const one of more) if (!doubts.has(one)) doubts.set(one, at);
  };
  for (const departure of departures) {
    const lost = departure.kind === 'unseen-run' ? unseenRun(departure, to) : heldOff(inputs, departure, to);
    if (lost) beyond.push(lost);
    if (lost?.to === to) break;
    doubting(departure.to, 'call', 'pressure');
    if (departure.kind === 'unseen-run') doubting(departure.to, 'voltage');
  }
  const claimed = changes.filter(
    ({ at }) => !beyond.some((one) => at.latest > one.from && at.earliest < one.to),
  );
  const leansFrom = doubts.size === 0 ? null : Math.max(from, Math.min(...doubts.values()));
  return { changes: graded(claimed, doubts), beyond, leansFrom };
}

/** It started earlier than seen: unknown until it was seen running too. Where it runs on past a stop: for good. */
function unseenRun({ by, from, to, seenFollows }: Departure, end: Instant): Beyond {
  if (by === 'stop') return { from, to: end, why: 'runs-on-unseen' };
  return { from, to: seenFollows ? to : end, why: 'runs-unseen' };
}

function heldOff({ edges }: Inputs, { from, to }: Departure, end: Instant): Beyond | null {
  const opened = [edges.high, edges.low].flatMap((each) =>
    edgesBetween(each ?? [], from, to).filter((edge) => edge.to === 1),
  );
  const power = edgesBetween(edges.supply ?? [], from, to).find((edge) => edge.to === AWAY);
  const ended = edgesBetween(edges.call ?? [], from, to).filter(
    (edge) => edge.to === 0 && !(power && power.earliest <= edge.latest),
  );
  const at = (found: typeof opened) =>
    Math.min(...found.map(({ earliest }) => Math.max(from, earliest)), Infinity);
  if (at(opened) < at(ended)) return { from: at(opened), to: end, why: 'switch-opened-running' };
  return ended.length > 0 ? { from: at(ended), to: end, why: 'call-ended-running' } : null;
}

const LEANS_ON: Readonly<Partial<Record<ControlReason['code'], Doubt>>> = {
  'call-came': 'call',
  'call-ended': 'call',
  'call-broken': 'call',
  'high-pressure': 'pressure',
  'high-pressure-at-start': 'pressure',
  'low-pressure': 'pressure',
  'low-pressure-at-retry': 'pressure',
  undervoltage: 'voltage',
  'voltage-recovered': 'voltage',
};

/** What power does is carried whatever was before; what follows a change that leans, leans as well. */
const POWER: ReadonlySet<ControlReason['code']> = new Set(['power-lost', 'power-returned', 'power-broken']);

function graded(changes: readonly Change[], doubts: ReadonlyMap<Doubt, Instant>): CarriedChange[] {
  const inherited = new Set<Doubt>();
  return changes.map((change) => {
    if (change.codes.some((code) => POWER.has(code))) inherited.clear();
    for (const code of change.codes) {
      const doubt = LEANS_ON[code];
      const since = doubt && doubts.get(doubt);
      if (doubt && since !== undefined && change.at.latest > since) inherited.add(doubt);
    }
    return { ...change, leansOn: [...inherited] };
  });
}
