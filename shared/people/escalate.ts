import type { Severity } from '../alarms/severity.ts';
import type { Instant } from '../base/instant.ts';
import { afterClockStep, climbAfter, dueOf, type Climb, type Policy, type Target } from './escalation.ts';
import type { NeedsBy, Urgency } from './must-go.ts';
import { ownershipDue } from './ownership.ts';
import { laterMessage, type MessageReason, type Told } from './telling.ts';

/**
 * One decision about one root: what is to be told to whom now, and when to decide again (handbook 7).
 *
 *   held ──(the night is over, or it can't wait any more)──▶ paging ──(the last page's time is over)──▶ exhausted
 *   paging, exhausted ──(accepted)──▶ owned ──(asked and no answer)──▶ paging, behind whoever was asked last
 *   any ──(cleared, shelved, out of service)──▶ over
 *
 * Accepting, changes and the end come from outside (db/escalations.ts); what they lead to is decided here.
 */
export interface Escalation {
  readonly severity: Severity;
  readonly state: 'held' | 'paging' | 'owned' | 'exhausted' | 'over';
  readonly nextPage: number;
  readonly pageDueAt: Instant;
  /** when to decide again; null: not before something changes */
  readonly dueAt: Instant | null;
  /** when that was written */
  readonly setAt: Instant;
  readonly owner: string | null;
  readonly place: 'accepted' | 'on-site' | null;
  readonly ownedSince: Instant | null;
  readonly askedAt: Instant | null;
  readonly needsBy: Instant | null;
  readonly cleared: boolean;
}

export interface Around {
  /** null: the site has none */
  readonly policy: Policy | null;
  readonly urgency: Urgency;
  readonly needsBy: NeedsBy;
  readonly notices: readonly (Told & { readonly person: string })[];
  /** who that is at this moment; nobody where a roster has a gap */
  readonly resolve: (targets: readonly Target[]) => readonly string[];
  readonly now: Instant;
}

export interface Decision {
  readonly next: Escalation;
  readonly messages: readonly Message[];
}

export interface Message {
  readonly person: string;
  readonly reason: MessageReason;
}

export function decideEscalation(before: Escalation, around: Around): Decision {
  const { now } = around;
  const needsBy = around.needsBy.kind === 'by' ? around.needsBy.earliest : null;
  const row: Escalation = { ...shifted(before, now), setAt: now, needsBy };
  const later = laterMessages(row, around);
  if (row.state === 'over' || row.state === 'exhausted')
    return { next: { ...row, dueAt: null }, messages: later };
  const decision = row.state === 'owned' ? owned(row, around) : paged(row, around);
  return { next: decision.next, messages: oneEach([...decision.messages, ...later]) };
}

/** Times that were written in what is the future now keep their distance. */
function shifted(row: Escalation, now: Instant): Escalation {
  const shift = (at: Instant): Instant => afterClockStep(at, row.setAt, now);
  const orNull = (at: Instant | null): Instant | null => (at === null ? null : shift(at));
  return {
    ...row,
    pageDueAt: shift(row.pageDueAt),
    ownedSince: orNull(row.ownedSince),
    askedAt: orNull(row.askedAt),
  };
}

const laterMessages = ({ severity, cleared, owner }: Escalation, { notices }: Around): Message[] =>
  notices.flatMap((told) => {
    const reason = laterMessage(told.person, told, { severity, cleared, owner });
    return reason === null ? [] : [{ person: told.person, reason }];
  });

/** Nobody is told two things at once; the first is the weightier. */
const oneEach = (messages: readonly Message[]): Message[] =>
  messages.filter((one, n) => messages.findIndex(({ person }) => person === one.person) === n);

function paged(row: Escalation, around: Around): Decision {
  const { policy, urgency, now } = around;
  if (row.nextPage === 0 && urgency.heldUntil !== null)
    return { next: { ...row, state: 'held', pageDueAt: now, dueAt: urgency.heldUntil }, messages: [] };
  if (policy === null) return { next: { ...row, state: 'exhausted', dueAt: null }, messages: [] };
  // what was held is due when it is no longer, whatever it was put off to
  const dueAt = row.state === 'held' ? now : row.pageDueAt;
  return page(row, policy, around, { next: row.nextPage, dueAt });
}

/** The page that is due. A step with nobody is passed over at once: its time would be lost. */
function page(row: Escalation, policy: Policy, around: Around, climb: Climb): Decision {
  const due = dueOf(policy, climb, around.now);
  if (due.kind === 'not-yet')
    return { next: { ...row, state: 'paging', pageDueAt: due.at, dueAt: due.at }, messages: [] };
  if (due.kind === 'exhausted')
    return {
      next: { ...row, state: 'exhausted', dueAt: null },
      messages: around.resolve(due.targets).map((person) => ({ person, reason: 'exhausted' })),
    };
  const people = around.resolve(due.targets);
  if (people.length === 0) return page(row, policy, around, { next: due.page + 1, dueAt: around.now });
  const told = new Set(around.notices.map(({ person }) => person));
  const { next: nextPage, dueAt } = due.then;
  return {
    next: { ...row, state: 'paging', nextPage, pageDueAt: dueAt, dueAt },
    messages: people.map((person) => ({ person, reason: told.has(person) ? 'again' : 'page' })),
  };
}

function owned(row: Escalation, around: Around): Decision {
  const { now, policy } = around;
  const due = ownershipDue(
    {
      person: row.owner!,
      place: row.place ?? 'accepted',
      since: row.ownedSince ?? now,
      askedAt: row.askedAt,
      needsBy: row.needsBy,
    },
    now,
  );
  switch (due.kind) {
    case 'not-yet':
      return { next: { ...row, dueAt: due.at }, messages: [] };
    case 'ask-owner': {
      const reason = due.why === 'alone-on-site' ? 'asked-alone' : 'asked-next-step';
      const asked = { ...row, askedAt: now };
      return { next: owned(asked, around).next, messages: [{ person: row.owner!, reason }] };
    }
    case 'policy-again':
      return begunAgain(row, around);
    case 'tell-next': {
      const next = owned({ ...row, ownedSince: now, askedAt: null }, around).next;
      const others = policy === null ? [] : nextPeople(row, policy, around);
      return { next, messages: others.map((person) => ({ person, reason: 'alone-on-site' })) };
    }
  }
}

/** The owner is gone quiet: whoever comes next is paged, and nobody owns it. */
function begunAgain(row: Escalation, around: Around): Decision {
  const { policy, now } = around;
  const free = { ...row, owner: null, place: null, ownedSince: null, askedAt: null };
  if (policy === null) return { next: { ...free, state: 'exhausted', dueAt: null }, messages: [] };
  return page({ ...free, state: 'paging' }, policy, around, climbAfter(policy, row.nextPage - 1, now));
}

/** The first step behind the one that was asked last which has somebody other than the owner; else the fallback. */
function nextPeople(row: Escalation, policy: Policy, { resolve }: Around): readonly string[] {
  const from = Math.max(0, row.nextPage);
  for (let n = 0; n < policy.steps.length; n++) {
    const { targets } = policy.steps[(from + n) % policy.steps.length]!;
    const others = resolve(targets).filter((person) => person !== row.owner);
    if (others.length > 0) return others;
  }
  return resolve(policy.fallback).filter((person) => person !== row.owner);
}
