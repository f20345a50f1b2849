import type { Instant } from '../../../shared/base/instant.ts';
import { mayLeave, type Leaving } from '../../../shared/wire/watch-sentences.ts';
import type { Actor } from '../../../shared/wire/may.ts';
import type { VisitAnswer } from '../../../shared/wire/visit-answer.ts';

/** Where a visit stands for whoever reads it: what the first line says, and what the bar at the bottom offers. */
export type Stage =
  /** nobody has it: accept */
  | 'free'
  /** somebody else has it */
  | 'theirs'
  | 'mine'
  | 'on-my-way'
  | 'on-site'
  /** nothing is to be accepted: hidden, or over and closed */
  | 'over'
  | 'hidden';

export function stageOf({ alarm, telling, steps }: VisitAnswer, actor: Actor | null): Stage {
  const isMine = isOwner(alarm, actor);
  if (isMine && telling?.state === 'owned' && telling.place === 'on-site') return 'on-site';
  if (alarm.state === 'A') return 'over';
  if ('GHI'.includes(alarm.state)) return 'hidden';
  if (isMine && !'BDE'.includes(alarm.state))
    return steps.at(-1)?.step === 'on-my-way' ? 'on-my-way' : 'mine';
  return alarm.owner === null || 'BDE'.includes(alarm.state) ? 'free' : 'theirs';
}

const isOwner = ({ owner, ownerId }: VisitAnswer['alarm'], actor: Actor | null): boolean => {
  if (actor === null || owner === null) return false;
  return actor.kind === 'person' ? ownerId === actor.id : ownerId === null && owner === actor.name;
};

/** "May I leave?", once somebody has been there; null: nobody has, or runs tell nothing of it. */
export function leavingOf(
  { watch, steps, findings }: VisitAnswer,
  at: { now: Instant; clock: (at: Instant) => string; next: string | null },
): Leaving | null {
  const wasThere = findings.length > 0 || steps.some(({ step }) => step === 'on-site');
  return watch === null || !wasThere ? null : mayLeave(watch, at);
}

/** Who has it, in a line. */
export function holderLine({ alarm, telling }: VisitAnswer, dueIn: (at: string) => string): string {
  if (alarm.outOfService) return `Out of service by ${alarm.outOfService.by}: ${alarm.outOfService.reason}.`;
  const owner = telling?.state === 'owned' ? telling.ownerName : null;
  if (owner !== null) return `${owner} has it${telling?.place === 'on-site' ? ', on site' : ''}.`;
  if (alarm.state === 'A') return alarm.owner === null ? 'Nobody had it.' : `${alarm.owner} had it.`;
  if (alarm.suppressed?.kind === 'work') return 'Somebody is at work there.';
  if (alarm.suppressed) return 'Something else explains it.';
  if (alarm.shelved) return `Shelved by ${alarm.shelved.by}: ${alarm.shelved.reason}.`;
  if (telling && !telling.hasPolicy) return 'Nobody has it, and nobody is told: there is no policy.';
  if (telling?.state === 'exhausted') return 'Nobody has it. Everybody was asked and nobody has answered.';
  if (alarm.owner !== null && !'BDE'.includes(alarm.state)) return `${alarm.owner} has it.`;
  if (telling?.next && telling.dueAt) return `Nobody has it. Next: ${telling.next} ${dueIn(telling.dueAt)}.`;
  return telling?.state === 'held' ? 'Nobody has it: held until the night is over.' : 'Nobody has it.';
}
