import { digest } from '../base/digest.ts';
import { same } from '../base/same.ts';
import type { Instant } from '../base/instant.ts';
import type { Task } from './alarm.ts';
import type { Condition } from './condition.ts';
import { TASK_RULES, type TaskRuleId } from './rules.ts';

/** A site's tasks as its conditions have them now: new ones open, those whose evidence is gone close themselves. */
export function tasksNow(
  open: readonly Task[],
  conditions: readonly Condition[],
  { site, now, isHeld }: { site: string; now: Instant; isHeld: (condition: Condition) => boolean },
): { readonly open: readonly Task[]; readonly changed: readonly Task[] } {
  const standing = new Map(
    conditions
      .filter((one) => one.end === null && one.rule in TASK_RULES && !isHeld(one))
      .map((one) => [one.key, one]),
  );
  const kept = open.map((task) => {
    const condition = standing.get(task.key);
    standing.delete(task.key);
    return condition ? withFacts(task, condition) : { ...task, closedAt: now };
  });
  const fresh = [...standing.values()].map((condition) => opened(condition, site, now));
  const before = new Map(open.map((task) => [task.id, task]));
  const changed = [...kept, ...fresh].filter((task) => before.get(task.id) !== task);
  return { open: [...kept, ...fresh].filter(({ closedAt }) => closedAt === null), changed };
}

const opened = (condition: Condition, site: string, now: Instant): Task => ({
  id: digest(site, condition.key, condition.events[0] ?? ''),
  site,
  key: condition.key,
  rule: condition.rule as TaskRuleId,
  openedAt: now,
  closedAt: null,
  ...factsOf(condition),
});

const factsOf = ({ subject, since, cause, certainty, events }: Condition) => ({
  subject,
  since,
  cause,
  certainty,
  events,
});

/** The very same task where nothing has changed, so that nothing is written. */
function withFacts(task: Task, condition: Condition): Task {
  const next = { ...task, ...factsOf(condition) };
  return same(next, task) ? task : next;
}
