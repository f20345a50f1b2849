import { inSeconds } from '../../base/instant.ts';
import { alarmRule, offDelayBounds, type AlarmRuleId } from '../rules.ts';
import { tunedFor, type RuleTuning, type Tuning } from '../tuning.ts';
import { announcedIn, type Announced } from './announced.ts';
import { contributors } from './repeats.ts';
import { liveAgain, type Lived } from './replay.ts';

/**
 * What other delays would have spared (handbook 7): for the sources that asked most, a longer on-delay or off-delay, each
 * lived through by the machine. Nothing here is estimated: lengths choose what is tried, the replay says what comes of it.
 */
export interface Suggestion {
  readonly key: string;
  readonly rule: AlarmRuleId;
  /** null: the setting is the whole site's, for its subject is no unit */
  readonly unit: string | null;
  readonly field: 'onDelaySeconds' | 'offDelaySeconds';
  readonly now: number;
  readonly then: number;
  /** of this source, in the replay under today's settings */
  readonly of: number;
  readonly avoided: number;
  /** of all sources of the site, where the setting is the whole site's */
  readonly avoidedElsewhere: number;
  /** the longest that one of the avoided stood, s; null: none */
  readonly longestAvoided: number | null;
  /** which: by the server's clock in the replay */
  readonly spared: readonly Announced[];
}

export interface Suggested {
  readonly suggestions: readonly Suggestion[];
  /** by source, how often the replay under today's settings raised it */
  readonly replayed: ReadonlyMap<string, number>;
  /** sources that asked often and for which nothing worth its price was found */
  readonly without: readonly string[];
}

const SOURCES_TRIED = 5;
const LEAST_ASKED = 3;
/** a change that spares fewer isn't worth a setting [ours] */
const LEAST_AVOIDED = 2;
const LEAST_SHARE = 0.25;
/** delays are set in such steps */
const STEPS = [5, 10, 15, 20, 30, 45, 60, 90, 120, 180, 240, 300, 420, 600, 900, 1800, 3600] as const;

export function* suggest(lived: Lived): Generator<void, Suggested> {
  const base = announcedIn(yield* liveAgain(lived));
  const counts = new Map(contributors(base).map(({ key, count }) => [key, count]));
  const often = contributors(base)
    .filter(({ count }) => count >= LEAST_ASKED)
    .slice(0, SOURCES_TRIED);
  const suggestions: Suggestion[] = [];
  for (const { key } of often)
    for (const trial of trialsFor(key, base, lived)) {
      const tried = announcedIn(yield* liveAgain({ ...lived, tuning: withTrial(lived.tuning, trial) }));
      const found = compared(trial, base, tried);
      if (isWorthIt(found)) suggestions.push(found);
    }
  const helped = new Set(suggestions.map(({ key }) => key));
  const best = suggestions.toSorted((a, b) => b.avoided - a.avoided || a.then - a.now - (b.then - b.now));
  return {
    suggestions: best,
    replayed: counts,
    without: often.map(({ key }) => key).filter((key) => !helped.has(key)),
  };
}

const isWorthIt = ({ avoided, of }: Suggestion): boolean =>
  avoided >= LEAST_AVOIDED && avoided / of >= LEAST_SHARE;

export interface Trial {
  readonly key: string;
  readonly rule: AlarmRuleId;
  readonly unit: string | null;
  readonly field: Suggestion['field'];
  readonly now: number;
  readonly then: number;
}

/** The shortest longer on-delay that half of them wouldn't have outlasted; the shortest off-delay that bridges half of the gaps. */
function trialsFor(key: string, base: readonly Announced[], { site, tuning }: Lived): Trial[] {
  const { rule, unit } = partsOf(
    key,
    site.units.map(({ id }) => id),
  );
  const tuned = tunedFor(rule, unit, tuning);
  const own = base.filter((one) => one.key === key);
  const stood = own.flatMap(({ at, goneAt }) => (goneAt === null ? [] : [inSeconds(goneAt - at)]));
  const apart = own.flatMap(({ goneAt }, n) =>
    goneAt === null || !own[n + 1] ? [] : [inSeconds(own[n + 1]!.at - goneAt)],
  );
  const trial = (
    field: Trial['field'],
    lengths: readonly number[],
    bounds: readonly [number, number],
  ): Trial[] => {
    const now = tuned[field];
    // at an on-delay of now they were raised that late; off-delays end them that late
    const least = halfOf(lengths.map((length) => length + now));
    const then =
      least === null ? undefined : STEPS.find((step) => step > least && step > now && step <= bounds[1]);
    return then === undefined ? [] : [{ key, rule, unit, field, now, then }];
  };
  return [
    ...trial('onDelaySeconds', stood, alarmRule(rule).onDelayBounds),
    ...trial('offDelaySeconds', apart, offDelayBounds),
  ];
}

/** What half of them don't exceed; null: too few. */
const halfOf = (lengths: readonly number[]): number | null =>
  lengths.length < LEAST_AVOIDED
    ? null
    : (lengths.toSorted((a, b) => a - b)[Math.ceil(lengths.length / 2) - 1] ?? null);

/** `rule:kind/device` (condition.ts). */
function partsOf(key: string, units: readonly string[]): { rule: AlarmRuleId; unit: string | null } {
  const [rule = '', subject = ''] = key.split(':');
  const [kind, device = ''] = subject.split('/');
  return { rule: rule as AlarmRuleId, unit: kind === 'unit' && units.includes(device) ? device : null };
}

function withTrial(tuning: Tuning, { rule, unit, field, then }: Trial): Tuning {
  const isIt = (one: RuleTuning): boolean => one.rule === rule && one.unit === unit;
  const before = tuning.find(isIt) ?? { rule, unit };
  return [...tuning.filter((one) => !isIt(one)), { ...before, [field]: then }];
}

function compared(trial: Trial, base: readonly Announced[], tried: readonly Announced[]): Suggestion {
  const own = (some: readonly Announced[]) => some.filter(({ key }) => key === trial.key);
  const [before, after] = [own(base), own(tried)];
  const spared = sparedOf(before, after, trial);
  const stood = spared.flatMap(({ at, goneAt }) =>
    goneAt === null ? [] : [inSeconds(goneAt - at) + (trial.field === 'onDelaySeconds' ? trial.now : 0)],
  );
  return {
    ...trial,
    of: before.length,
    avoided: before.length - after.length,
    avoidedElsewhere: base.length - before.length - (tried.length - after.length),
    longestAvoided: stood.length === 0 ? null : Math.max(...stood),
    spared,
  };
}

/** Those that weren't raised under the trial: one that was is raised as much later as its delay is longer, at the same event. */
function sparedOf(before: readonly Announced[], after: readonly Announced[], trial: Trial): Announced[] {
  const later = trial.field === 'onDelaySeconds' ? trial.then - trial.now : 0;
  const left = after.map(({ at }) => at);
  return before.filter(({ at, goneAt }) => {
    const until = Math.max(goneAt ?? Infinity, at + later * 1e6);
    const match = left.findIndex((then) => then >= at && then <= until);
    if (match >= 0) left.splice(match, 1);
    return match < 0;
  });
}
