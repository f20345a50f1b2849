import type { Severity } from './must-go.ts';

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

export type Message = 'worse' | 'cleared' | 'taken';

const RANK: Record<Severity, number> = { critical: 2, major: 1, minor: 0 };

const isWorse = (now: Severity, before: Severity): boolean => RANK[now] > RANK[before];

/** The message that a change makes for somebody who has the notice; null: none. */
export function laterMessage(person: string, told: Told, now: Standing): Message | null {
  if (told.severity === null) return null;
  if (now.cleared) return told.cleared ? null : 'cleared';
  if (isWorse(now.severity, told.severity)) return 'worse';
  const taken = now.owner !== null && now.owner !== told.owner && now.owner !== person;
  return taken ? 'taken' : null;
}

/** What the person knows once told. */
export const knowing = (now: Standing): Told => ({ ...now });
