import type { AlarmRefusal } from '../alarms/machine.ts';
import type { AlarmRuleId, TaskRuleId } from '../alarms/rules.ts';
import type { WorkRefusal } from '../alarms/work.ts';
import type { Severity } from '../alarms/severity.ts';
import type { AlarmAnswer, AlarmLine, TaskAnswer } from './alarm-answer.ts';
import { causeText } from './cause-words.ts';

/**
 * What an alarm and a task say, the trade's term first, and the list's first line, which answers "does somebody have to do
 * something now?". Total tables: a new rule doesn't compile until it has its words.
 */
interface RuleWords {
  readonly term: string;
  /** is the event's cause worth words beside the term? */
  readonly cause: boolean;
}

const words = (term: string, cause = false): RuleWords => ({ term, cause });

const ALARM_WORDS: Record<AlarmRuleId, RuleWords> = {
  'cooling-lost': words('Cooling lost'),
  'high-temperature': words('Above its temperature limit'),
  'high-temperature-forecast': words('Will reach its temperature limit'),
  'hard-lockout': words('Hard lockout', true),
  'repair-failed': words('The repair didn’t hold', true),
  'cooling-reduced': words('Cooling reduced'),
  'hard-lockout-again': words('Second hard lockout within 7 days', true),
  'power-loss': words('Without power'),
  'unit-power-loss': words('No control power', true),
  'stuck-contactor': words('Stuck contactor: current with no output'),
  'failed-start': words('Failed start: output with no current', true),
  'undervoltage-in-a-row': words('Dropped at three starts in a row by undervoltage'),
  'weak-cooling': words('Weak cooling', true),
  'gateway-silent': words('Gateway silent: nothing is known behind it'),
};

/** Without what is beside the term. */
export const ALARM_TERMS = Object.fromEntries(
  Object.entries(ALARM_WORDS).map(([rule, { term }]) => [rule, term.split(':')[0]!]),
) as Record<AlarmRuleId, string>;

const TASK_WORDS: Record<TaskRuleId, string> = {
  'setting-mismatch': 'A delay isn’t what is recorded',
  'starts-not-separate': 'Units started together after a power return',
  'alarm-circuit': 'The alarm circuit doesn’t tell what it should',
  'second-soft-lockout': 'Second soft lockout within 24 h',
  'short-cycling': 'Short cycling: three early starts within an hour',
  'undervoltage-holds': 'Dropped twice within an hour by undervoltage',
  'point-silent': 'A point is silent',
  'repeated-reset': 'The same lockout was reset more than once within an hour',
};

export const TASK_TERMS: Readonly<Record<TaskRuleId, string>> = TASK_WORDS;

/** ◆ ▲ ■: a severity has its shape before it has a colour. */
export const SEVERITY_SHAPES: Record<Severity, string> = { critical: '◆', major: '▲', minor: '■' };

type Facts = Pick<AlarmAnswer, 'rule' | 'cause' | 'certainty' | 'causeCertainty' | 'active' | 'latched'>;

/** `Hard lockout, probably high pressure` */
export function alarmTitle({ rule, cause, certainty, causeCertainty }: Facts): string {
  const { term, cause: worth } = ALARM_WORDS[rule];
  const hedge = certainty === 'certain' ? '' : ` is ${certainty}`;
  const why =
    worth && cause !== null ? `${hedge ? ';' : ','} ${causeText(cause, causeCertainty ?? 'certain')}` : '';
  const [head, ...rest] = term.split(':');
  return `${head}${hedge}${rest.length > 0 ? `:${rest.join(':')}` : ''}${why}`;
}

/** What stands of it where it is over: null while it is true (handbook 7, hard lockout). */
export function overText({ rule, active, latched }: Facts): string | null {
  if (active) return null;
  if (!latched) return 'over';
  return rule === 'hard-lockout' || rule === 'hard-lockout-again'
    ? 'reset by the end of the call or of the power; the fault was not removed'
    : 'over; kept until somebody closes it';
}

export const taskTitle = ({ rule, cause }: Pick<TaskAnswer, 'rule' | 'cause'>): string =>
  rule === 'alarm-circuit' && cause !== null
    ? `${TASK_WORDS[rule]}: ${causeText(cause, 'certain')}`
    : TASK_WORDS[rule];

/** Does somebody have to do something now? The list's first line. */
export function alarmsAnswer(alarms: readonly AlarmAnswer[], tasks: number): string {
  const open = alarms.filter(({ state }) => 'BCDEF'.includes(state));
  const unseen = open.filter(({ state }) => 'BDE'.includes(state));
  const hidden = alarms.filter(({ state }) => state === 'G' || state === 'I').length;
  const rest =
    hidden > 0
      ? [`${counted(hidden, 'alarm')} ${hidden === 1 ? 'is' : 'are'} shelved or out of service`]
      : [];
  if (open.length === 0) return sentence(['Nobody has to do anything now', ...rest, ...tasksText(tasks)]);
  if (unseen.length === 0)
    return sentence([
      `Somebody is on ${open.length === 1 ? 'it' : `all ${open.length}`}: nothing is unacknowledged`,
      ...rest,
    ]);
  const critical = unseen.filter(({ severity }) => severity === 'critical').length;
  const sites = [...new Set(unseen.map(({ siteName }) => siteName))];
  const where = sites.length > 2 ? `at ${sites.length} sites` : `at ${sites.join(' and ')}`;
  const how = critical > 0 ? `, ${critical} of them critical` : '';
  return sentence([
    unseen.length === 1
      ? `Somebody has to look at ${where.slice(3)} now: ${critical ? 'one critical alarm' : 'one alarm'} nobody has acknowledged`
      : `Somebody has to do something now: ${counted(unseen.length, 'alarm')} ${where}${how}, not acknowledged`,
    ...rest,
  ]);
}

const tasksText = (tasks: number): string[] =>
  tasks > 0 ? [`${counted(tasks, 'task')} for a working day`] : [];
const sentence = (parts: readonly string[]): string => `${parts.join('; ')}.`;
const counted = (count: number, noun: string): string => `${count} ${noun}${count === 1 ? '' : 's'}`;

/** A line of the journal, without its time. */
export const LINE_WORDS: Record<AlarmLine['what'], string> = {
  raised: 'Raised',
  'raised-again': 'True again',
  returned: 'No longer true',
  cleared: 'At rest',
  'made-worse': 'Worse now',
  'made-milder': 'Milder now',
  withdrawn: 'Taken back: better data show that it never was',
  acknowledged: 'Acknowledged',
  noted: 'Note',
  shelved: 'Shelved',
  unshelved: 'Taken off the shelf',
  'shelf-ended': 'Its time on the shelf is over',
  suppressed: 'Suppressed by design',
  'suppressor-changed': 'Suppressed by another cause',
  unsuppressed: 'No longer suppressed',
  'taken-out-of-service': 'Taken out of service',
  'returned-to-service': 'Returned to service',
  closed: 'Closed',
  'taken-over': 'Taken over',
  replaced: 'Late data moved its event',
  amended: 'Better known',
  'learned-late': 'Over when it was learned',
};

/** Why an alarm couldn't do what was asked, and what to do instead. */
const REFUSAL_WORDS: Record<AlarmRefusal | WorkRefusal, string> = {
  'already-acknowledged': 'Somebody has acknowledged it already.',
  'nothing-to-acknowledge': 'There is nothing to acknowledge: it isn’t announced.',
  hidden: 'It is suppressed or out of service: acknowledge what explains it, or return it to service first.',
  'already-shelved': 'It is on the shelf already: take it off first.',
  'not-shelved': 'It isn’t on the shelf.',
  'shelf-too-long': 'An alarm is shelved for seven days at most.',
  'already-out-of-service': 'It is out of service already.',
  'not-out-of-service': 'It is in service.',
  'still-true': 'It is still true: it can be closed once its condition is over.',
  'not-latched': 'It closes by itself: acknowledge it instead.',
  'at-rest': 'It is at rest: there is nothing to do about it.',
  'work-too-long': 'Work is announced for two hours at most, and can be renewed.',
  'not-at-work': 'That work has ended.',
};

export const refusalText = (code: string): string =>
  code in REFUSAL_WORDS ? REFUSAL_WORDS[code as AlarmRefusal] : 'That can’t be done as things stand.';
