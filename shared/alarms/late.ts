import { seconds, type Instant } from '../base/instant.ts';
import type { Alarm, AlarmChange } from './alarm.ts';
import { fits, type Condition } from './condition.ts';
import type { Given, SiteAlarms } from './given.ts';
import { ALARM_RULES, type AlarmRule } from './rules.ts';
import type { Severity } from './severity.ts';

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
    // an ordinary stop is none of the alarms that only a repair before it makes
    const rule = rules.find(({ from }) => from.by !== 'repairs' && fits(event, from));
    if (!rule) return [];
    return [lateLine(now, event.start.latest, [id], rule.severity)];
  });
}

/**
 * What stood when it was learned, waited because its subject was still catching up (catch-up.ts), and is over now that it has:
 * as late as what was over from the first, and said in the same way.
 */
export function waitedAndOver(
  { lags }: Pick<SiteAlarms, 'lags'>,
  conditions: readonly Condition[],
  { now, through }: Pick<Given, 'now' | 'through'>,
  open: readonly Alarm[],
): AlarmChange[] {
  const kept = new Set(open.map(({ key }) => key));
  return conditions.flatMap(({ key, rule, since, end, events, severity }) =>
    key in lags && rule in ALARM_RULES && end !== null && !kept.has(key) && through - end.latest > LATE
      ? [lateLine(now, since.latest, events, severity)]
      : [],
  );
}

const lateLine = (
  at: Instant,
  eventAt: Instant,
  events: readonly string[],
  severity: Severity,
): AlarmChange => ({
  alarm: null,
  what: 'learned-late',
  at,
  eventAt,
  by: null,
  why: null,
  events,
  state: null,
  severity,
});
