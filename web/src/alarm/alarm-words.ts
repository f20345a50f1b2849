import { SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { AlarmAnswer } from '../../../shared/wire/alarm-answer.ts';
import { spokenLength } from '../../../shared/wire/durations.ts';
import { readInstant } from '../../../shared/wire/standing-wire.ts';
import type { Zone } from '../page/zone.ts';

/** When an alarm began and how long ago; where it was learned much later, both times (handbook 7, late facts). */
const LATE = 5 * 60 * SECOND;

export function sinceText(alarm: Pick<AlarmAnswer, 'since' | 'raisedAt'>, now: Instant, zone: Zone): string {
  const since = readInstant(alarm.since.latest);
  const raised = readInstant(alarm.raisedAt);
  const day = now - since > 12 * 3600 * SECOND ? `${zone.day(since)} ` : '';
  const late = raised - since > LATE ? `, learned ${spokenLength((raised - since) / SECOND)} later` : '';
  return `since ${day}${zone.clock(since)}, ${spokenLength(Math.max(0, now - since) / SECOND)} ago${late}`;
}

/** Who has it, and what hides it. */
export function holderText(alarm: AlarmAnswer, zone: Zone): string | null {
  const { outOfService, shelved, suppressed, acknowledged, owner } = alarm;
  if (outOfService)
    return `out of service by ${outOfService.by} (${outOfService.role}): ${outOfService.reason}`;
  if (suppressed?.kind === 'work') return 'somebody is at work there';
  if (suppressed) return 'suppressed by design: something else explains it';
  if (shelved) {
    const until = readInstant(shelved.until);
    return `shelved by ${shelved.by} until ${zone.day(until)} ${zone.clock(until)}: ${shelved.reason}`;
  }
  if (acknowledged)
    return `acknowledged by ${acknowledged.by} at ${zone.clock(readInstant(acknowledged.at))}`;
  return owner === null ? null : `${owner} has it`;
}
