import { SECOND, type Instant } from '../base/instant.ts';

/**
 * Accept is acknowledge plus ownership (handbook 7). Who owns an alarm and takes no next step is asked; who doesn't
 * answer loses it to the next person. Who is on site alone for long is asked as well, and then somebody else is told.
 *
 *   accepted ──(30 min, or half of needs-by if that is earlier)──▶ asked ──(5 min)──▶ unanswered: the policy again
 *   on site  ──(2 h without "left")──────────────────────────────▶ asked ──(5 min)──▶ unanswered: the next person is told
 */
export const OWNER_STEPS = ['still-on-it', 'on-my-way', 'on-site', 'left'] as const;
export type OwnerStep = (typeof OWNER_STEPS)[number];

export interface Ownership {
  readonly person: string;
  readonly place: 'accepted' | 'on-site';
  /** when the last step was taken: accepted, a step, on site */
  readonly since: Instant;
  /** when the owner was asked because of it; null: not yet */
  readonly askedAt: Instant | null;
  /** by when somebody has to be there; null: can't be told, or never */
  readonly needsBy: Instant | null;
}

export type OwnershipDue =
  | { readonly kind: 'not-yet'; readonly at: Instant }
  | { readonly kind: 'ask-owner'; readonly why: 'no-next-step' | 'alone-on-site' }
  | { readonly kind: 'policy-again' }
  | { readonly kind: 'tell-next'; readonly why: 'alone-on-site' };

const NEXT_STEP = 30 * 60 * SECOND;
const ANSWER = 5 * 60 * SECOND;
const ALONE = 2 * 3600 * SECOND;

export function ownershipDue(owned: Ownership, now: Instant): OwnershipDue {
  if (owned.askedAt === null) {
    const at = askAt(owned);
    if (now < at) return { kind: 'not-yet', at };
    return { kind: 'ask-owner', why: owned.place === 'on-site' ? 'alone-on-site' : 'no-next-step' };
  }
  const at = owned.askedAt + ANSWER;
  if (now < at) return { kind: 'not-yet', at };
  return owned.place === 'on-site' ? { kind: 'tell-next', why: 'alone-on-site' } : { kind: 'policy-again' };
}

/** When the owner is asked: the earlier of 30 min and half of the time that is left; on site after 2 h. */
export function askAt({ place, since, needsBy }: Ownership): Instant {
  if (place === 'on-site') return since + ALONE;
  const half = needsBy === null ? Infinity : since + Math.max(0, (needsBy - since) / 2);
  return Math.round(Math.min(since + NEXT_STEP, half));
}
