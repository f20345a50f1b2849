import type { Queries } from '../../db/pool.ts';
import { readFindings, readSteps, readVisited } from '../../db/visits.ts';
import { seconds } from '../../shared/base/instant.ts';
import { WATCH_SETTINGS } from '../../shared/visit/watch.ts';
import { alarmTitle } from '../../shared/wire/alarm-sentences.ts';
import { wireAlarm } from '../../shared/wire/alarm-wire.ts';
import { wireInstant, wireSpan } from '../../shared/wire/standing-wire.ts';
import type { EarlierVisit } from '../../shared/wire/visit-answer.ts';
import { wireFindings, wireStep } from '../../shared/wire/visit-wire.ts';
import { standingOf, type VisitCase } from './read-visit.ts';
import { readKnownRuns, readUnitRecord } from './unit-record.ts';
import { watchOf } from './watch.ts';

/** Earlier alarms of the same unit that somebody did something about, with what became of it; newest first. */
const SHOWN = 5;
const A_DAY = seconds(86_400);

export async function readEarlier(
  queries: Queries,
  { kept, setup, site, now }: VisitCase,
): Promise<EarlierVisit[]> {
  const unit = site.units.find(({ id }) => id === kept.alarm.subject.unit) ?? null;
  if (unit === null) return [];
  const { through: folded } = await standingOf(queries, site, unit);
  const through = await readKnownRuns(queries, setup, unit, folded);
  const newest = Math.max(now, through ?? now) + 1;
  const before = kept.alarm.raisedAt;
  const visited = (await readVisited(queries, { site: site.id, unit: unit.id, before })).slice(0, SHOWN);
  const ids = visited.map(({ alarm }) => alarm.id);
  const steps = await readSteps(queries, ids);
  const findings = await readFindings(queries, ids);
  const found: EarlierVisit[] = [];
  for (const { alarm, closedAt } of visited) {
    const end = closedAt ?? alarm.end?.latest ?? now;
    const to = Math.min(newest, end + seconds(WATCH_SETTINGS.longestSeconds) + A_DAY);
    const record = await readUnitRecord(queries, setup, unit.id, { from: alarm.since.latest - A_DAY, to });
    const wire = wireAlarm({ alarm, version: 0, changedAt: alarm.raisedAt, root: null }, site);
    found.push({
      alarm: alarm.id,
      title: alarmTitle(wire),
      since: wireSpan(alarm.since)!,
      closedAt: wireInstant(closedAt),
      steps: steps.filter((step) => step.alarm === alarm.id).map(wireStep),
      findings: findings.filter((one) => one.alarm === alarm.id).map(wireFindings),
      watch: watchOf(alarm, unit, record, {
        closedAt,
        through: through === null ? null : Math.min(through, to),
      }),
    });
  }
  return found;
}
