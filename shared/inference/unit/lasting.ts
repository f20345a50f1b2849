import { seconds, type Instant } from '../../base/instant.ts';
import type { Span } from '../../base/span.ts';
import type { Certainty, EventCause } from '../event.ts';
import type { Moment } from './moment.ts';

/**
 * Conditions that count only once they have lasted: output against current (rule 9), control voltage out of range
 * (rule 10). One that ends within its grace is nothing.
 */
export type LastingName = 'conductor' | 'range';

export interface Lasting {
  readonly what: string;
  readonly cause: EventCause | null;
  readonly causeCertainty: Certainty;
  readonly since: Span;
  /** the edge that showed it: panel and space are told no wide one */
  readonly heard: Span;
  /** what it is judged by wasn't known from here on for a while: it may have ended then, unseen */
  doubtFrom?: Instant;
  /** has it lasted for longer than its grace? */
  told: 'not-yet' | 'never' | 'tentatively' | 'surely';
}

/** Handbook 4 rule 9: 2 s. For voltage "steady" is a minute [from memory]. */
const GRACE: Record<LastingName, number> = { conductor: seconds(2), range: seconds(60) };

/** When the condition will have lasted; null if nothing waits. */
export const lastsAt = (name: LastingName, lasting: Lasting | null): Instant | null =>
  lasting?.told === 'not-yet' ? lasting.since.latest + GRACE[name] : null;

/** The condition is now `next` (null: none). Answers the one that ended with it, if that had lasted. */
export function turn(
  moment: Moment,
  name: LastingName,
  next: Pick<Lasting, 'what' | 'cause' | 'causeCertainty' | 'since' | 'heard'> | null,
): Lasting | null {
  const was = moment.belief.lasting[name];
  if ((was?.what ?? null) === (next?.what ?? null)) return null;
  moment.belief.lasting[name] = next && { ...next, told: 'not-yet' };
  return isTold(was) ? was : null;
}

/** What the condition is judged by isn't known from `at` on. One that hadn't lasted yet was none. */
export function cannotTell({ belief }: Moment, name: LastingName, at: Span): void {
  const lasting = belief.lasting[name];
  if (isTold(lasting)) lasting.doubtFrom ??= at.earliest;
  else belief.lasting[name] = null;
}

/** That it lasted wasn't seen. */
export function neverTold({ belief }: Moment, name: LastingName): void {
  belief.lasting[name]!.told = 'never';
}

/** It has lasted. */
export function nowTold(moment: Moment, name: LastingName): Lasting {
  const lasting = moment.belief.lasting[name]!;
  lasting.told = moment.tentative ? 'tentatively' : 'surely';
  return lasting;
}

export const isTold = (lasting: Lasting | null): lasting is Lasting =>
  !!lasting && lasting.told !== 'not-yet' && lasting.told !== 'never';
export const begunOf = (lasting: Lasting) => ({ tentative: lasting.told === 'tentatively' });
