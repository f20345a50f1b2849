import { seconds } from '../base/instant.ts';
import type { Alarm, AlarmChange } from './alarm.ts';
import { fits } from './condition.ts';
import type { Given } from './given.ts';
import { ALARM_RULES, type AlarmRule } from './rules.ts';

/** What was over for so long when it was learned is late, and a line in the journal [from memory]. */
const LATE = seconds(60);

/**
 * Events that would have made an alarm and were over when they were learned: they page nobody, and stand in the journal with
 * when they were and when they were learned (handbook 7, late facts).
 */
export function learnedLate(
  { events, added, now, through }: Pick<Given, 'events' | 'added' | 'now' | 'through'>,
  open: readonly Alarm[],
): AlarmChange[] {
  const fresh = new Set(added);
  const named = new Set(open.flatMap((alarm) => alarm.events));
  const rules: readonly AlarmRule[] = Object.values(ALARM_RULES);
  return events.flatMap((event) => {
    const { id, end } = event;
    if (!fresh.has(id) || named.has(id) || end === null || through - end.latest <= LATE) return [];
    const rule = rules.find(({ from }) => fits(event, from));
    if (!rule) return [];
    return [
      {
        alarm: null,
        what: 'learned-late' as const,
        at: now,
        eventAt: event.start.latest,
        by: null,
        why: null,
        events: [id],
        state: null,
        severity: rule.severity,
      },
    ];
  });
}
