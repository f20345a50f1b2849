import type { Command, Work } from './alarm.ts';
import { lagOf, type Lag } from './catch-up.ts';
import { conditionsOf, type Beside, type Condition } from './condition.ts';
import { deadlines } from './deadlines.ts';
import { explain, type Explanation } from './explain.ts';
import type { Decision, Given, SiteAlarms } from './given.ts';
import { learnedLate, waitedAndOver } from './late.ts';
import { isActive } from './life.ts';
import { ALARM_RULES } from './rules.ts';
import { isWorse } from './severity.ts';
import { SiteDecision } from './site-decision.ts';
import { tasksNow } from './tasks.ts';
import { tunedFor } from './tuning.ts';
import { atTime, begun, ended, wasWorkedOn } from './work.ts';

type Outcomes = Parameters<SiteDecision['ask']>[1];

/**
 * One site's decision (handbook 7): what stands now, what a person has asked, and the time in; the alarms and tasks as they
 * are then, and every change with who and why, out. Pure: the same inputs give the same changes, so a step that crashed is
 * repeated. It is level, not edge: what it was told before takes no part, but for the alarms themselves.
 */
export function decideAlarms(state: SiteAlarms, given: Given): Decision {
  const outcomes: Outcomes = new Map();
  const works = atTime(worksAfter(state.works, given.commands, outcomes), given.now);
  const conditions = conditionsNow(given, works);
  const explained = explain(conditions, {
    site: given.configuration.site,
    through: given.through,
    isKnown: (condition) => isKnown(condition, given),
  });
  const waits = waitsOf(state, conditions, explained, given);
  const decision = new SiteDecision(state, given, { conditions, explained, works, held: waits.held });
  decision.ask(given.commands, outcomes);
  decision.observe();
  const alarms = decision.changedAlarms();
  const tasks = tasksNow(state.tasks, conditions, {
    site: given.configuration.site.id,
    now: given.now,
    isHeld: (one) => waits.held.has(one.key) || explained.has(one.key),
  });
  const open = decision.openAlarms();
  return {
    state: { alarms: open, tasks: tasks.open, works, lags: waits.lags },
    alarms,
    tasks: tasks.changed,
    changes: [
      ...decision.changes(),
      ...learnedLate(given, open),
      ...waitedAndOver(state, conditions, given, open),
    ],
    outcomes,
    wake: deadlines({ ...given, works, conditions, explained, alarms: open, waits: waits.wakes }),
  };
}

function worksAfter(
  before: readonly Work[],
  commands: readonly Command[],
  outcomes: Outcomes,
): readonly Work[] {
  let works = before;
  for (const command of commands) {
    if (command.kind === 'alarm') continue;
    const next = command.kind === 'begin-work' ? begun(works, command) : ended(works, command);
    outcomes.set(command.id, typeof next === 'string' ? next : null);
    if (typeof next !== 'string') works = next;
  }
  return works;
}

function conditionsNow(given: Given, works: readonly Work[]): Condition[] {
  const { site, tuning } = given.configuration;
  const beside: Beside = {
    site,
    through: given.through,
    repairs: given.repairs,
    wasWorkedOn: (unit, at) => wasWorkedOn(works, unit, at),
    isPowered: (unit, after) => (given.powered.get(unit) ?? -Infinity) > after,
    isHotInUse: (space) => given.hotInUse.has(space),
  };
  return conditionsOf(given.events, beside).flatMap((condition) => {
    const { on, severity } = tunedFor(condition.rule, condition.subject.unit, tuning);
    if (!on) return [];
    return [severity && !isRaisedByFacts(condition) ? { ...condition, severity } : condition];
  });
}

/** A severity that the facts have raised stands above what was tuned. */
const isRaisedByFacts = ({ rule, severity }: Condition): boolean =>
  rule in ALARM_RULES && isWorse(severity, ALARM_RULES[rule as keyof typeof ALARM_RULES].severity);

/** A subject whose fold has stopped, or that is unknown by silence, suppresses nothing. */
function isKnown({ subject, rule }: Condition, { known }: Given): boolean {
  if (rule === 'gateway-silent') return true; // silence itself is what is known
  const found = known.get(`${subject.kind}/${subject.device}`);
  if (subject.kind === 'site') return true; // made of its panels
  return found !== undefined && !found.stopped && found.through !== null;
}

function waitsOf(
  state: SiteAlarms,
  conditions: readonly Condition[],
  explained: ReadonlyMap<string, Explanation>,
  given: Given,
) {
  const active = new Set(state.alarms.filter(({ life }) => isActive(life)).map(({ key }) => key));
  const behind = new Map<string, ReturnType<typeof lagOf>>();
  for (const condition of conditions) {
    if (condition.end !== null || active.has(condition.key) || condition.rule === 'gateway-silent') continue;
    const { subject } = condition;
    const known = given.known.get(`${subject.kind}/${subject.device}`)?.through ?? null;
    const waits = lagOf(state.lags[condition.key] ?? null, { ...given, known });
    if (waits) behind.set(condition.key, waits);
  }
  // what a root that is told explains announces nothing, and says how bad the root is: it needn't wait
  const waiting = [...behind].filter(([key]) => {
    const by = explained.get(key);
    return by === undefined || by.until !== null || behind.has(by.by);
  });
  return {
    lags: Object.fromEntries(waiting.map(([key, waits]) => [key, waits!.lag])) as Record<string, Lag>,
    wakes: waiting.map(([, waits]) => waits!.wakeAt),
    held: new Set(waiting.map(([key]) => key)),
  };
}
