import { seconds, type Instant } from '../base/instant.ts';
import type { Alarm } from './alarm.ts';
import type { Decision } from './given.ts';
import { alarmRule } from './rules.ts';
import type { EventCause, EventDraft, EventKind } from '../inference/event.ts';

/**
 * What a person has closed as mended, and whether it came back (handbook 8, "After the repair"): the same cause again pages
 * on-call, though it is but the first stop, which retries by itself. A stop that may be the same cause counts too.
 */
export interface Repair {
  readonly unit: string;
  readonly kind: EventKind;
  readonly cause: EventCause | null;
  readonly closedAt: Instant;
}

/** What a decision's changes say was closed, of units alone. */
export function repairsIn({ alarms, changes }: Pick<Decision, 'alarms' | 'changes'>): Repair[] {
  return changes.flatMap(({ alarm: id, what, at }) => {
    const alarm = what === 'closed' ? alarms.find((one) => one.id === id) : undefined;
    return alarm ? repairOf(alarm, at) : [];
  });
}

export const repairOf = ({ subject: { unit }, rule, cause }: Alarm, closedAt: Instant): Repair[] =>
  unit === null ? [] : [{ unit, kind: alarmRule(rule).from.kind, cause, closedAt }];

/** So long a repair is watched, proven or not: as long as a second hard lockout counts [from memory]. */
export const REPAIR_WATCHED_SECONDS = 7 * 86_400;

/**
 * The stops that undo a repair: the first after it was closed, for each unit. One that has led to a hard lockout stands as
 * long as that does, so that the two are one alarm.
 */
export function failedRepairs(
  stops: readonly EventDraft[],
  events: readonly EventDraft[],
  repairs: readonly Repair[],
): EventDraft[] {
  const newest = new Map<string, Repair>();
  for (const repair of repairs)
    if ((newest.get(repair.unit)?.closedAt ?? -Infinity) < repair.closedAt) newest.set(repair.unit, repair);
  return [...newest.values()].flatMap((repair) => {
    const until = repair.closedAt + seconds(REPAIR_WATCHED_SECONDS);
    const first = stops
      .filter(
        ({ unit, start }) => unit === repair.unit && start.latest > repair.closedAt && start.latest <= until,
      )
      .toSorted((a, b) => a.start.latest - b.start.latest)
      .find((stop) => sameCause(repair, stop) !== null);
    if (!first) return [];
    return [{ ...first, end: lockedOutSince(first, events) ? null : first.end }];
  });
}

const lockedOutSince = (stop: EventDraft, events: readonly EventDraft[]): boolean =>
  events.some(
    ({ kind, unit, start, end }) =>
      kind === 'hard-lockout' && unit === stop.unit && end === null && start.latest >= stop.start.latest,
  );

const PRESSURE_KINDS: ReadonlySet<EventKind> = new Set<EventKind>(['soft-lockout', 'hard-lockout']);
/** Whatever caused them can't be told from each other. */
const UNTOLD: ReadonlySet<EventCause | null> = new Set<EventCause | null>(['pressure', 'unknown', null]);

/** Is it the same cause again? Null: no. */
export function sameCause(
  fault: Pick<EventDraft, 'kind' | 'cause'>,
  event: Pick<EventDraft, 'kind' | 'cause'>,
): 'same' | 'perhaps' | null {
  if (PRESSURE_KINDS.has(fault.kind)) {
    if (!PRESSURE_KINDS.has(event.kind)) return null;
    if (fault.cause === event.cause && !UNTOLD.has(fault.cause)) return 'same';
    return UNTOLD.has(fault.cause) || UNTOLD.has(event.cause) ? 'perhaps' : null;
  }
  if (fault.kind !== event.kind) return null;
  // a whole supply that failed is nothing that was mended in one unit
  return fault.kind === 'power-loss' && event.cause === 'supply' ? null : 'same';
}
