import { SECOND, type Instant } from '../base/instant.ts';

/**
 * Who is asked when, until somebody answers (handbook 7). A policy is a row of steps; the row is walked once and then as
 * often again as it repeats, and when the last step's time is over too, it is exhausted and the fallback is told. The
 * decision is pure; the row that keeps where an escalation stands is the store's.
 */
export interface Policy {
  readonly steps: readonly Step[];
  /** times that the whole row is walked again */
  readonly repeats: number;
  /** who is told that nobody answered */
  readonly fallback: readonly Target[];
}

export interface Step {
  readonly targets: readonly Target[];
  /** seconds that they have to answer before the next step */
  readonly waitSeconds: number;
}

/** Whoever is on call by a roster at that moment, or one person always. */
export type Target =
  { readonly kind: 'roster'; readonly id: string } | { readonly kind: 'person'; readonly id: string };

/** Where an escalation stands: its next page, and since when that is due. Page n is step n mod steps. */
export interface Climb {
  readonly next: number;
  readonly dueAt: Instant;
}

export type Due =
  | { readonly kind: 'not-yet'; readonly at: Instant }
  | {
      readonly kind: 'page';
      readonly page: number;
      /** which round, from 0 */
      readonly round: number;
      readonly targets: readonly Target[];
      readonly then: Climb;
    }
  | { readonly kind: 'exhausted'; readonly targets: readonly Target[] };

/** A step taken this late still keeps the times of those that follow: no drift by what a look costs. */
const LATE = 30 * SECOND;

export const firstClimb = (at: Instant): Climb => ({ next: 0, dueAt: at });

const pagesOf = (policy: Policy): number => policy.steps.length * (policy.repeats + 1);

const waitOf = (policy: Policy, page: number): number =>
  policy.steps[page % policy.steps.length]!.waitSeconds * SECOND;

/**
 * What is due now. After a time in which nobody looked only the step whose time it is, never those in between; but
 * "nobody answered" isn't said before the last page that was due meanwhile has had its time to be answered.
 */
export function dueOf(policy: Policy, climb: Climb, now: Instant): Due {
  const pages = pagesOf(policy);
  if (now < climb.dueAt) return { kind: 'not-yet', at: climb.dueAt };
  if (climb.next >= pages) return { kind: 'exhausted', targets: policy.fallback };
  let [page, dueAt] = [climb.next, climb.dueAt];
  while (page + 1 < pages && now >= dueAt + waitOf(policy, page)) dueAt += waitOf(policy, page++);
  const from = now - dueAt <= LATE ? dueAt : now;
  return {
    kind: 'page',
    page,
    round: Math.floor(page / policy.steps.length),
    targets: policy.steps[page % policy.steps.length]!.targets,
    then: { next: page + 1, dueAt: from + waitOf(policy, page) },
  };
}

/**
 * The owner doesn't answer: the policy begins again, at the person behind the one who was asked last (handbook 7,
 * accept). Behind the last step it begins at the first.
 */
export function climbAfter(policy: Policy, lastPage: number, at: Instant): Climb {
  return { next: (lastPage + 1) % policy.steps.length, dueAt: at };
}

/** Every page of a policy and its end, in seconds from its start: 5/5/10 min, repeat 1 → 0, 5, 10, 20, 25, 30; 40 min. */
export function planOf(policy: Policy): { readonly pages: readonly number[]; readonly exhausted: number } {
  const pages: number[] = [];
  let at = 0;
  for (let page = 0; page < pagesOf(policy); page++) {
    pages.push(at);
    at += policy.steps[page % policy.steps.length]!.waitSeconds;
  }
  return { pages, exhausted: at };
}

/**
 * The machine's clock was set back: a due time that was written in what is now the future keeps its distance from then.
 * `setAt` is when it was written.
 */
export const afterClockStep = (dueAt: Instant, setAt: Instant, now: Instant): Instant =>
  setAt > now ? now + (dueAt - setAt) : dueAt;
