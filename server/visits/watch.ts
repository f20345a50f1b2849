import type { Alarm } from '../../shared/alarms/alarm.ts';
import { isActive } from '../../shared/alarms/life.ts';
import { ALARM_RULES, type AlarmRuleId } from '../../shared/alarms/rules.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Unit } from '../../shared/telemetry/site.ts';
import { failedRun, runsOf } from '../../shared/visit/hints.ts';
import { watchRepair } from '../../shared/visit/watch.ts';
import { wireWatch } from '../../shared/wire/visit-wire.ts';
import type { WatchAnswer } from '../../shared/wire/visit-answer.ts';
import type { UnitRecord } from './unit-record.ts';

/** What of which runs show that it was mended. */
const WATCHED: ReadonlySet<AlarmRuleId> = new Set<AlarmRuleId>([
  'hard-lockout',
  'hard-lockout-again',
  'repair-failed',
  'unit-power-loss',
  'stuck-contactor',
  'failed-start',
  'undervoltage-in-a-row',
]);

/** The watched repair of an alarm of a unit; null: runs show nothing of it. */
export function watchOf(
  alarm: Alarm,
  unit: Unit | null,
  record: UnitRecord,
  { closedAt, through }: { readonly closedAt: Instant | null; readonly through: Instant | null },
): WatchAnswer | null {
  if (unit === null || !WATCHED.has(alarm.rule)) return null;
  const { kind } = ALARM_RULES[alarm.rule].from;
  const since = alarm.since.latest;
  const end = isActive(alarm.life) ? null : (alarm.end?.latest ?? alarm.raisedAt);
  const failedRunSeconds = failedRun(
    runsOf(record.events, () => null),
    since,
  );
  const bypassSeconds = unit.protection.lowPressureBypass.value;
  const outdoors = record.outdoorsAt(since);
  const watch = watchRepair({
    fault: { kind, cause: alarm.cause, end, failedRunSeconds, bypassSeconds, outdoors },
    // what doesn't latch closes itself
    closedAt: ALARM_RULES[alarm.rule].latches ? closedAt : end,
    events: record.events,
    outdoorsAt: record.outdoorsAt,
    through,
  });
  return wireWatch(watch, failedRunSeconds);
}
