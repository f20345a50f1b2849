import type { Bounds, Span } from '../base/span.ts';
import type { Instant } from '../base/instant.ts';
import type { EventDraft } from '../inference/event.ts';
import type { StaggerPlan } from './lay-out.ts';
import { pairsOf, startsOf } from './restarts.ts';

/**
 * A proposal's life: drafted → agreed → set → kept or not. The first three are what people did, in rows that are only added;
 * whether it is kept is worked out from the restarts after it was set whenever somebody asks, and stored nowhere: late data
 * then change the verdict as they change the events.
 */
export type ProposalState = 'drafted' | 'agreed' | 'set' | 'withdrawn';
export type ProposalStep = 'agree' | 'set' | 'withdraw';

const FROM: Readonly<
  Record<ProposalStep, { readonly from: readonly ProposalState[]; readonly to: ProposalState }>
> = {
  agree: { from: ['drafted'], to: 'agreed' },
  set: { from: ['agreed'], to: 'set' },
  withdraw: { from: ['drafted', 'agreed'], to: 'withdrawn' },
};

/** What it is afterwards; null: the step can't be taken as things stand. */
export const after = (state: ProposalState, step: ProposalStep): ProposalState | null =>
  FROM[step].from.includes(state) ? FROM[step].to : null;

/** What somebody read off the dial or the display after setting it; null: it could not be set. */
export interface ReadBack {
  readonly unit: string;
  readonly offDelay: number | null;
  /** what it shows, in their words */
  readonly shows: string;
}

/** A proposal of other delays for a panel. */
export interface Proposal {
  readonly id: string;
  readonly site: string;
  readonly panel: string;
  readonly draftedAt: Instant;
  readonly draftedBy: string;
  readonly state: ProposalState;
  readonly plan: StaggerPlan;
}

/** What somebody did about it. */
export interface TakenStep {
  readonly step: ProposalStep;
  readonly by: string;
  readonly at: Instant;
  readonly fromAt: Instant | null;
  readonly readBacks: readonly ReadBack[] | null;
  readonly note: string;
}

/** What is wrong with what was read back: each unit that was to be set once, at least one of them set. */
export function readBackFaults(
  plan: StaggerPlan,
  readBacks: readonly ReadBack[],
): { at: number | null; says: string }[] {
  const asked = plan.units.filter(({ isChange }) => isChange).map(({ id }) => id);
  const faults: { at: number | null; says: string }[] = [];
  for (const [at, { unit }] of readBacks.entries()) {
    if (!asked.includes(unit))
      faults.push({ at, says: `"${unit}" isn’t among the units that were to be set.` });
    if (readBacks.findIndex((one) => one.unit === unit) < at)
      faults.push({ at, says: `"${unit}" is there twice: give it once.` });
  }
  const missing = asked.filter((id) => !readBacks.some(({ unit }) => unit === id));
  if (missing.length > 0)
    faults.push({
      at: null,
      says: `Say of ${missing.join(', ')} too what it shows, or null where it couldn’t be set.`,
    });
  if (readBacks.length > 0 && readBacks.every(({ offDelay }) => offDelay === null))
    faults.push({ at: null, says: 'None was set: withdraw the proposal instead.' });
  return faults;
}

export type KeptVerdict = 'waiting' | 'kept' | 'not-kept' | 'cannot-be-told';

export interface Kept {
  readonly verdict: KeptVerdict;
  /** the restart that it was judged by */
  readonly event: string | null;
  readonly at: Span | null;
  readonly units: readonly KeptUnit[];
  /** units of different groups that started together all the same */
  readonly together: readonly (readonly [first: string, second: string])[];
}

export interface KeptUnit {
  readonly unit: string;
  /** s by which it started later than its setting says, seen and allowed */
  readonly seen: Bounds | null;
  readonly allowed: Bounds;
  readonly verdict: KeptVerdict;
}

/** What was set, and from when on. */
export interface WasSet {
  readonly at: Instant;
  readonly units: readonly string[];
}

/**
 * Judged by the first restart that began after it was set, is over, and shows a start of one of the units that were set which
 * its wait has set. Kept: each such start lies within what the plan allows timer and dial, about the delay that was read
 * back, and none that were to be apart came together. `sequences`: the panel's, oldest first.
 */
export function judgeKept(plan: StaggerPlan, set: WasSet, sequences: readonly EventDraft[]): Kept {
  const event = sequences.find(
    (one) => one.start.earliest >= set.at && one.end !== null && set.units.some((id) => startOf(one, id)),
  );
  if (!event) return { verdict: 'waiting', event: null, at: null, units: [], together: [] };
  const units = plan.units.flatMap(({ id, proposed }): KeptUnit[] => {
    const start = set.units.includes(id) ? startOf(event, id) : undefined;
    if (!start) return [];
    const allowed: Bounds = [proposed.wait[0] - proposed.nominal, proposed.wait[1] - proposed.nominal];
    return [{ unit: id, seen: start.deviation, allowed, verdict: within(start.deviation, allowed) }];
  });
  const groupOf = new Map(plan.units.map(({ id, group }) => [id, group]));
  const apart = pairsOf(event).filter(({ first, second }) => groupOf.get(first) !== groupOf.get(second));
  const together = apart
    .filter(({ verdict }) => verdict === 'simultaneous')
    .map(({ first, second }) => [first, second] as const);
  return {
    verdict: verdictOf(units, apart, together.length),
    event: event.id,
    at: event.start,
    units,
    together,
  };
}

const startOf = (event: EventDraft, unit: string) => startsOf(event).find((start) => start.unit === unit);

function within(seen: Bounds | null, [low, high]: Bounds): KeptVerdict {
  if (!seen) return 'cannot-be-told';
  if (seen[1] < low || seen[0] > high) return 'not-kept';
  return seen[0] >= low && seen[1] <= high ? 'kept' : 'cannot-be-told';
}

function verdictOf(
  units: readonly KeptUnit[],
  apart: readonly { readonly verdict: string }[],
  together: number,
): KeptVerdict {
  if (together > 0 || units.some(({ verdict }) => verdict === 'not-kept')) return 'not-kept';
  const isTold =
    units.every(({ verdict }) => verdict === 'kept') && apart.every(({ verdict }) => verdict === 'separate');
  return isTold ? 'kept' : 'cannot-be-told';
}
