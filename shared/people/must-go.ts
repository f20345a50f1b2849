import type { Severity } from '../alarms/severity.ts';
import type { Instant } from '../base/instant.ts';
import { clockText, dayNumber, daysAfter, instantOfMinutes, wallOf } from './wall-time.ts';

/**
 * "Must I go now?" (handbook 7): the first line of every notice, and whether a notice may wait for the end of the night.
 * By night critical is told at once; major at once if somebody is needed before the morning, or if that can't be told;
 * minor never. Decided again at every change.
 */
export interface Night {
  readonly zone: string;
  /** minutes after midnight; 22:00–07:00 unless set otherwise */
  readonly from: number;
  readonly to: number;
  /** the site wants to be told at once whatever it is */
  readonly alwaysAtOnce: boolean;
}

export const ORDINARY_NIGHT = { from: 22 * 60, to: 7 * 60, alwaysAtOnce: false } as const;

/** How long there is, as far as it can be told. */
export type NeedsBy =
  | {
      readonly kind: 'by';
      readonly earliest: Instant;
      /** what is reached then: `35 °C between 03:20 and 03:40` */
      readonly says: string;
    }
  /** it doesn't come to that; `over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it` */
  | { readonly kind: 'not-needed'; readonly says: string }
  /** `no room temperature` */
  | { readonly kind: 'not-known'; readonly says: string };

export interface Urgency {
  readonly answer: 'go-now' | 'can-wait' | 'not-known';
  /** the first line */
  readonly says: string;
  /** the notice is held until then; null: it is told at once */
  readonly heldUntil: Instant | null;
}

export function mustGo(severity: Severity, needsBy: NeedsBy, night: Night, now: Instant): Urgency {
  const morning = morningAfter(night, now);
  const answer = answerOf(severity, needsBy, morning);
  const held = isNight(night, now) && !night.alwaysAtOnce && waits(severity, answer);
  return {
    answer,
    says: firstLine(answer, needsBy, clockText(morning, night.zone)),
    heldUntil: held ? morning : null,
  };
}

/** The next end of the night: tomorrow's, once today's is over. */
function morningAfter({ zone, to }: Night, now: Instant): Instant {
  const today = wallOf(now, zone);
  const first = instantOfMinutes(today, to, zone);
  return first > now ? first : instantOfMinutes(daysAfter(today, 1), to, zone);
}

/** Is it night: from its beginning, that excluded none, up to its end. */
function isNight({ zone, from, to }: Night, now: Instant): boolean {
  if (from === to) return false;
  const day = dayNumber(wallOf(now, zone));
  const length = (to - from + 1440) % 1440;
  return [-1, 0].some((back) => {
    const date = daysAfter({ year: 1970, month: 1, day: 1 }, day + back);
    return now >= instantOfMinutes(date, from, zone) && now < instantOfMinutes(date, from + length, zone);
  });
}

function answerOf(severity: Severity, needsBy: NeedsBy, morning: Instant): Urgency['answer'] {
  if (severity === 'critical') return 'go-now';
  if (needsBy.kind === 'not-known') return 'not-known';
  if (needsBy.kind === 'not-needed') return 'can-wait';
  return needsBy.earliest < morning ? 'go-now' : 'can-wait';
}

function waits(severity: Severity, answer: Urgency['answer']): boolean {
  if (severity === 'critical') return false;
  return severity === 'minor' || answer === 'can-wait';
}

function firstLine(answer: Urgency['answer'], needsBy: NeedsBy, morning: string): string {
  const reason = needsBy.says.replace(/\.$/, '');
  if (answer === 'go-now')
    return needsBy.kind === 'by' ? `Go now: ${reason}.` : `Go now: ${unsure(needsBy)}.`;
  return answer === 'can-wait' ? `Can wait until ${morning}: ${reason}.` : `Can’t be told: ${reason}.`;
}

/** Critical, though how long there is can't be told: both are said. */
const unsure = ({ kind, says }: NeedsBy): string => {
  const reason = says.replace(/\.$/, '');
  return kind === 'not-known' ? `how long there is can’t be told (${reason})` : reason;
};
