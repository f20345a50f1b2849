import { isWorse, type Severity } from '../alarms/severity.ts';

/**
 * What one person is told about one root, and when no more (handbook 7; contract of the notices): one notice, which its
 * pages repeat; after it only what is worse, that it has cleared, or that another has taken it.
 */
export interface Told {
  /** the worst that this person was told; null: nothing yet */
  readonly severity: Severity | null;
  readonly cleared: boolean;
  /** whom this person knows as its owner */
  readonly owner: string | null;
}

export interface Standing {
  readonly severity: Severity;
  readonly cleared: boolean;
  readonly owner: string | null;
}

/** Why a message is sent: the page itself, one that repeats it, or one of the few that may follow. */
export type MessageReason =
  | 'page'
  | 'again'
  | 'worse'
  | 'cleared'
  | 'taken'
  | 'asked-next-step'
  | 'asked-alone'
  | 'exhausted'
  | 'alone-on-site'
  | 'test';

/** The message that a change makes for somebody who has the notice; null: none. */
export function laterMessage(person: string, told: Told, now: Standing): MessageReason | null {
  if (told.severity === null) return null;
  if (now.cleared) return told.cleared ? null : 'cleared';
  if (isWorse(now.severity, told.severity)) return 'worse';
  const taken = now.owner !== null && now.owner !== told.owner && now.owner !== person;
  return taken ? 'taken' : null;
}
