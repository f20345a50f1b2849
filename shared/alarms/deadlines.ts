import { seconds, type Instant } from '../base/instant.ts';
import type { Alarm, Work } from './alarm.ts';
import type { Condition } from './condition.ts';
import type { Given } from './given.ts';
import type { Explanation } from './explain.ts';
import { tunedFor } from './tuning.ts';

/** When to decide again although nothing new has come: by the server's clock, and in event time. Null: no need. */
export interface Wake {
  readonly at: Instant | null;
  readonly through: Instant | null;
}

export function deadlines(
  given: Pick<Given, 'now' | 'through' | 'configuration'> & {
    readonly conditions: readonly Condition[];
    readonly explained: ReadonlyMap<string, Explanation>;
    readonly alarms: readonly Alarm[];
    readonly works: readonly Work[];
    readonly waits: readonly Instant[];
  },
): Wake {
  const { now, through, configuration, conditions, explained, alarms, works } = given;
  const coming = conditions
    .filter(({ end }) => end === null)
    .map(({ rule, subject, since }) => {
      const { onDelaySeconds } = tunedFor(rule, subject.unit, configuration.tuning);
      return since.latest + seconds(onDelaySeconds);
    });
  const going = alarms
    .filter(({ life }) => life.condition === 'going')
    .map(({ rule, subject, life }) => {
      const { offDelaySeconds } = tunedFor(rule, subject.unit, configuration.tuning);
      return life.turnedAt! + seconds(offDelaySeconds);
    });
  const graces = [...explained.values()].flatMap(({ until }) => (until === null ? [] : [until]));
  const shelves = alarms.flatMap(({ life }) => (life.shelved ? [life.shelved.until] : []));
  const ends = works.flatMap(({ until, endedAt }) => (endedAt === null ? [until] : []));
  return {
    at: next([...shelves, ...ends, ...given.waits], now),
    through: next([...coming, ...going, ...graces], through),
  };
}

/** The first that is still to come. */
function next(all: readonly Instant[], after: Instant): Instant | null {
  const coming = all.filter((at) => at > after);
  return coming.length === 0 ? null : Math.min(...coming);
}
