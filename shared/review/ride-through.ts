import { seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import { offDelayBounds, powerUpBounds, wireOf } from '../inference/members/wired.ts';
import type { Unit } from '../telemetry/site.ts';
import { stretchOf } from './disturbances.ts';
import { sumOf, type Stretch } from './stretches.ts';

/**
 * What one unit did in a power event (handbook 5.2). `dropped`: it ran, and its run ended with the supply;
 * `rode-through`: it ran on; `held`: it didn't run, and lost its control power, so that it had to wait; `not-running`: it
 * didn't run and didn't notice; `not-known`: its runs aren't wired, or were silent then.
 */
export type RideOutcome = 'dropped' | 'rode-through' | 'held' | 'not-running' | 'not-known';

export interface RideThrough {
  readonly unit: string;
  readonly outcome: RideOutcome;
  /** of its first drop, as the run's event has it; null where it didn't drop */
  readonly because: string | null;
  readonly drops: readonly Drop[];
  /** its start after the last drop, or after it was held; null: none was seen */
  readonly restarted: Span | null;
  /** seconds [least, most] without its cooling though it was wanted, through `until` where it lasts */
  readonly withoutCooling: Bounds;
  /** it hasn't come back by the end of what is reviewed, though it might have */
  readonly stillOff: boolean;
  /** it hasn't come back yet: its delay isn't over */
  readonly waits: boolean;
  readonly evidence: readonly string[];
}

export interface Drop {
  readonly at: Span;
  readonly cause: string;
  readonly event: string;
  /** null: no start was seen after it */
  readonly restarted: Span | null;
}

export interface RideInput {
  readonly unit: Unit;
  /** of this unit alone, any kinds */
  readonly events: readonly EventDraft[];
  readonly disturbances: readonly Stretch[];
  /** what its panel's restart sequences say of it, the last one last */
  readonly outcomes: readonly { readonly outcome: string; readonly setBy: string | null }[];
  /** gaps in telling that leave this unit unknown */
  readonly unknown: readonly Stretch[];
  readonly knownThrough: Instant | null;
  readonly until: Instant;
}

/** A coil lets go within this much of the supply's return, or not because of it [our choice]. */
const AFTER = seconds(2);
/** stops that the supply has no part in */
const BY_ITSELF: ReadonlySet<string> = new Set(['call-ended', 'high-pressure', 'low-pressure', 'pressure']);

export function rideThrough(input: RideInput): RideThrough {
  const { unit, events, disturbances } = input;
  const runs = events
    .filter(({ kind }) => kind === 'compressor-run')
    .sort((a, b) => a.start.latest - b.start.latest);
  const losses = events.filter((event) => isLossWithin(event, disturbances));
  if (isUnknown(input)) return plain(unit.id, 'not-known', losses);
  const drops = disturbances.flatMap((one) => dropsIn(runs, one));
  if (drops.length > 0) return dropped(input, drops);
  const rode = runs.filter((run) => disturbances.some((one) => wasRunning(run, one)));
  if (rode.length > 0) return plain(unit.id, 'rode-through', rode);
  return losses.length > 0 ? held(input, runs, losses) : plain(unit.id, 'not-running', []);
}

const plain = (unit: string, outcome: RideOutcome, evidence: readonly EventDraft[]): RideThrough => ({
  unit,
  outcome,
  because: null,
  drops: [],
  restarted: null,
  withoutCooling: [0, 0],
  stillOff: false,
  waits: false,
  evidence: evidence.map(({ id }) => id),
});

function isUnknown({ unit, disturbances, unknown, knownThrough }: RideInput): boolean {
  const first = disturbances[0];
  if (!first || !wireOf(unit, 'run')) return true;
  if (knownThrough === null || knownThrough < first.from.latest) return true;
  return unknown.some(
    ({ from, to }) => from.earliest <= first.from.latest && (to?.earliest ?? Infinity) >= first.from.earliest,
  );
}

function isLossWithin(event: EventDraft, disturbances: readonly Stretch[]): boolean {
  if (event.kind !== 'power-loss' || event.cause === 'unit-only') return false;
  return disturbances.some(
    ({ from, to }) =>
      event.start.earliest <= (to?.latest ?? Infinity) && (event.end?.latest ?? Infinity) >= from.earliest,
  );
}

const wasRunning = ({ start, end }: EventDraft, { from }: Stretch): boolean =>
  start.latest <= from.latest && (end?.latest ?? Infinity) >= from.earliest;

/** The run that this disturbance ended: it ran as it began, and stopped before the supply was back for `AFTER`. */
function dropsIn(runs: readonly EventDraft[], disturbance: Stretch): Drop[] {
  return runs.flatMap((run, i) => {
    const { end } = run;
    if (!end || !wasRunning(run, disturbance)) return [];
    if (end.earliest > (disturbance.to?.latest ?? Infinity) + AFTER) return [];
    if (run.cause !== null && BY_ITSELF.has(run.cause)) return [];
    return [{ at: end, cause: run.cause ?? 'unknown', event: run.id, restarted: runs[i + 1]?.start ?? null }];
  });
}

function dropped({ unit, outcomes, until }: RideInput, found: readonly Drop[]): RideThrough {
  const drops = [...new Map(found.map((drop) => [drop.event, drop])).values()];
  const last = drops.at(-1)!;
  const end = outcomes.at(-1)?.outcome;
  const calledOff = end === 'no-call' || end === 'held-off';
  const waits = last.restarted === null && !calledOff && isWaiting(unit, last.at, end, until);
  const lasted = drops.map(({ at, restarted }): Bounds => {
    const [least, most] = elapsed(at, restarted ?? { earliest: until, latest: until });
    return [calledOff ? 0 : Math.max(0, least), Math.max(0, most)];
  });
  return {
    unit: unit.id,
    outcome: 'dropped',
    because: drops[0]!.cause,
    drops,
    restarted: last.restarted,
    withoutCooling: sumOf(lasted),
    stillOff: last.restarted === null && !calledOff && !waits,
    waits,
    evidence: drops.map(({ event }) => event),
  };
}

/** Its panel's restart says so; where there is none, as after a sag, its delays do. */
function isWaiting(unit: Unit, at: Span, outcome: string | undefined, until: Instant): boolean {
  if (outcome !== undefined) return outcome === 'waiting';
  const longest = Math.max(offDelayBounds(unit.protection)[1], powerUpBounds(unit.protection)[1]);
  return until < at.latest + longest;
}

/** It wasn't running, so how long it was wanted isn't known: from none of the time to all of it, if its call waited. */
function held(
  { unit, outcomes, until }: RideInput,
  runs: readonly EventDraft[],
  losses: readonly EventDraft[],
): RideThrough {
  const away = stretchOf(losses[0]!);
  const back = losses.at(-1)!.end;
  const last = outcomes.at(-1);
  const started = runs.find(({ start }) => start.latest >= (back?.earliest ?? away.from.latest));
  const restarted = last?.outcome === 'started' ? (started?.start ?? null) : null;
  const stillOff = last?.outcome === 'overdue' && restarted === null;
  const wanted = stillOff || (restarted !== null && last?.setBy !== 'call');
  const end = restarted ?? { earliest: until, latest: until };
  return {
    ...plain(unit.id, 'held', losses),
    restarted,
    withoutCooling: wanted ? [0, Math.max(0, elapsed(away.from, end)[1])] : [0, 0],
    stillOff,
    waits: last?.outcome === 'waiting' && restarted === null,
  };
}
