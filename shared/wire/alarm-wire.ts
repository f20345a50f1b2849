import type { Alarm, AlarmChange, Task, Work } from '../alarms/alarm.ts';
import type { AlarmSubject } from '../alarms/condition.ts';
import { isActive, stateOf } from '../alarms/life.ts';
import { formatInstant, type Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Site } from '../telemetry/site.ts';
import type { AlarmAnswer, AlarmLine, TaskAnswer, WorkAnswer } from './alarm-answer.ts';

/** Between what decides about alarms and the wire, by hand. */
export function wireAlarm(
  {
    alarm,
    version,
    changedAt,
    root,
  }: { alarm: Alarm; version: number; changedAt: Instant; root: string | null },
  site: Site | null,
): AlarmAnswer {
  const { life } = alarm;
  const { acknowledged, shelved, outOfService, suppressed } = life;
  return {
    id: alarm.id,
    ...whereOf(alarm, site),
    rule: alarm.rule,
    severity: life.severity,
    state: stateOf(life),
    active: isActive(life),
    latched: life.latched,
    since: wireSpan(alarm.since),
    end: alarm.end && wireSpan(alarm.end),
    raisedAt: formatInstant(alarm.raisedAt),
    changedAt: formatInstant(changedAt),
    cause: alarm.cause,
    certainty: alarm.certainty,
    causeCertainty: alarm.causeCertainty,
    events: [...alarm.events],
    members: [...alarm.members],
    occurrences: alarm.occurrences,
    owner: alarm.owner,
    ownerId: alarm.ownerId ?? null,
    acknowledged: acknowledged && { by: acknowledged.by, at: formatInstant(acknowledged.at) },
    shelved: shelved && { ...shelved, at: formatInstant(shelved.at), until: formatInstant(shelved.until) },
    outOfService: outOfService && { ...outOfService, at: formatInstant(outOfService.at) },
    suppressed: suppressed && {
      kind: suppressed.kind,
      id: suppressed.kind === 'work' ? suppressed.id : root,
    },
    version,
  };
}

export const wireLine = (change: AlarmChange & { readonly id: number }): AlarmLine => ({
  id: String(change.id),
  what: change.what,
  at: formatInstant(change.at),
  eventAt: change.eventAt === null ? null : formatInstant(change.eventAt),
  by: change.by,
  why: change.why,
  events: [...change.events],
  state: change.state,
  severity: change.severity,
});

export const wireTask = (task: Task, site: Site | null): TaskAnswer => ({
  id: task.id,
  ...whereOf(task, site),
  rule: task.rule,
  since: wireSpan(task.since),
  cause: task.cause,
  certainty: task.certainty,
  events: [...task.events],
  openedAt: formatInstant(task.openedAt),
  closedAt: task.closedAt === null ? null : formatInstant(task.closedAt),
});

export const wireWork = (work: Work & { readonly site: string }): WorkAnswer => ({
  id: work.id,
  site: work.site,
  units: [...work.units],
  by: work.by,
  from: formatInstant(work.from),
  until: formatInstant(work.until),
});

const wireSpan = ({ earliest, latest }: Span) => ({
  earliest: formatInstant(earliest),
  latest: formatInstant(latest),
});

function whereOf(of: { readonly site: string; readonly subject: AlarmSubject }, site: Site | null) {
  const { kind, device, unit, space, panel } = of.subject;
  return {
    site: of.site,
    siteName: site?.name ?? of.site,
    timeZone: site?.timeZone ?? 'UTC',
    subject: { kind, device, name: subjectName(of.subject, site), unit, space, panel },
  };
}

/** What people call it: the configuration's name, else its id. */
export function subjectName({ kind, device }: AlarmSubject, site: Site | null): string {
  if (kind === 'site') return site?.name ?? 'the site';
  const named = (id: string): string =>
    [...(site?.units ?? []), ...(site?.spaces ?? []), ...(site?.panels ?? [])].find((one) => one.id === id)
      ?.name ?? id;
  if (kind !== 'point') return named(device);
  const [of = device, signal = ''] = device.split('/');
  return `${of === 'site' ? (site?.name ?? of) : named(of)}, ${signal.replaceAll('-', ' ')}`;
}
