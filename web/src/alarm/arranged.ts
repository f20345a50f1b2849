import type { AlarmAnswer } from '../../../shared/wire/alarm-answer.ts';
import { SEVERITIES } from '../../../shared/alarms/severity.ts';

/** The alarms as somebody reads them: by what they ask for, the worst first, then the oldest; what is explained under its root. */
export type AlarmGroup = 'needs-someone' | 'someone-is-on-it' | 'hidden';

export const ALARM_GROUP_WORDS: Record<AlarmGroup, string> = {
  'needs-someone': 'nobody has acknowledged',
  'someone-is-on-it': 'someone is on it',
  hidden: 'shelved, out of service, or somebody is at work there',
};

export interface AlarmEntry {
  readonly alarm: AlarmAnswer;
  /** what it explains, and what that explains */
  readonly explains: readonly AlarmAnswer[];
}

export function arranged(
  alarms: readonly AlarmAnswer[],
): readonly (readonly [AlarmGroup, readonly AlarmEntry[]])[] {
  const ids = new Set(alarms.map(({ id }) => id));
  const isUnder = ({ suppressed }: AlarmAnswer) => suppressed?.id != null && ids.has(suppressed.id);
  const entries = alarms
    .filter((alarm) => !isUnder(alarm))
    .toSorted(byUrgency)
    .map((alarm) => ({ alarm, explains: under(alarm.id, alarms).toSorted(byUrgency) }));
  return (Object.keys(ALARM_GROUP_WORDS) as AlarmGroup[]).map(
    (group) => [group, entries.filter(({ alarm }) => groupOf(alarm) === group)] as const,
  );
}

function under(root: string, alarms: readonly AlarmAnswer[]): AlarmAnswer[] {
  const own = alarms.filter(({ id, suppressed }) => suppressed?.id === root && id !== root);
  return own.flatMap((alarm) => [alarm, ...under(alarm.id, alarms)]);
}

function groupOf({ state }: AlarmAnswer): AlarmGroup {
  if ('BDE'.includes(state)) return 'needs-someone';
  return 'CF'.includes(state) ? 'someone-is-on-it' : 'hidden';
}

const byUrgency = (a: AlarmAnswer, b: AlarmAnswer): number =>
  SEVERITIES.indexOf(a.severity) - SEVERITIES.indexOf(b.severity) ||
  Number(b.active) - Number(a.active) ||
  (a.since.latest < b.since.latest ? -1 : a.since.latest > b.since.latest ? 1 : a.id < b.id ? -1 : 1);

/** The held alarms with a frame's laid over them; what has come to rest goes. */
export function withAlarms(
  held: readonly AlarmAnswer[],
  newer: readonly AlarmAnswer[],
): readonly AlarmAnswer[] {
  const byId = new Map(held.map((alarm) => [alarm.id, alarm]));
  for (const alarm of newer) {
    const before = byId.get(alarm.id);
    if (before && before.version > alarm.version) continue;
    byId.delete(alarm.id);
    if (alarm.state !== 'A') byId.set(alarm.id, alarm);
  }
  return [...byId.values()];
}
