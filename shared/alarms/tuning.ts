import {
  ALARM_RULE_IDS,
  alarmRule,
  offDelayBounds,
  TASK_RULE_IDS,
  type AlarmRuleId,
  type RuleId,
} from './rules.ts';
import type { LifeSettings } from './machine.ts';
import type { Severity } from './severity.ts';

/**
 * What a manager may change of a rule, for the whole site or for one unit, within the rule's bounds (rules.ts). What latches
 * isn't tunable: that a lockout is looked at before it is forgotten is no matter of taste.
 */
export interface RuleTuning {
  readonly rule: RuleId;
  /** null: the whole site */
  readonly unit: string | null;
  /** false: makes nothing at all */
  readonly on?: boolean;
  readonly severity?: Severity;
  readonly onDelaySeconds?: number;
  readonly offDelaySeconds?: number;
}
export type Tuning = readonly RuleTuning[];

export interface TuningFault {
  /** place in the list */
  readonly index: number;
  readonly field: 'rule' | 'unit' | 'on' | 'severity' | 'onDelaySeconds' | 'offDelaySeconds';
  readonly message: string;
}

/** Critical alarms of the room itself can't be switched off: nobody would know that a room is lost. */
export const ALWAYS_ON: readonly RuleId[] = ['cooling-lost', 'high-temperature'];

const isAlarmRule = (rule: RuleId): rule is AlarmRuleId =>
  (ALARM_RULE_IDS as readonly RuleId[]).includes(rule);

export function tuningFaults(tuning: Tuning, units: readonly string[]): TuningFault[] {
  return tuning.flatMap((one, index) => faultsOf(one, units).map((fault) => ({ index, ...fault })));
}

function faultsOf(one: RuleTuning, units: readonly string[]): Omit<TuningFault, 'index'>[] {
  const { rule, unit, on, severity, onDelaySeconds, offDelaySeconds } = one;
  const known = isAlarmRule(rule) || (TASK_RULE_IDS as readonly RuleId[]).includes(rule);
  if (!known) return [{ field: 'rule', message: `There is no rule "${rule as string}".` }];
  const faults: Omit<TuningFault, 'index'>[] = [];
  if (unit !== null && !units.includes(unit))
    faults.push({ field: 'unit', message: `There is no unit "${unit}" at this site.` });
  if (on === false && ALWAYS_ON.includes(rule))
    faults.push({ field: 'on', message: 'This alarm can’t be switched off.' });
  if (!isAlarmRule(rule)) {
    const fields = { severity, onDelaySeconds, offDelaySeconds };
    for (const [field, value] of Object.entries(fields))
      if (value !== undefined)
        faults.push({ field: field as 'severity', message: 'A task has no such setting.' });
    return faults;
  }
  const { severities, onDelayBounds } = alarmRule(rule);
  if (severity !== undefined && !severities.includes(severity))
    faults.push({ field: 'severity', message: `Give one of ${severities.join(', ')}.` });
  if (onDelaySeconds !== undefined && !isWithin(onDelaySeconds, onDelayBounds))
    faults.push({ field: 'onDelaySeconds', message: `Give seconds from ${onDelayBounds.join(' to ')}.` });
  if (offDelaySeconds !== undefined && !isWithin(offDelaySeconds, offDelayBounds))
    faults.push({ field: 'offDelaySeconds', message: `Give seconds from ${offDelayBounds.join(' to ')}.` });
  return faults;
}

const isWithin = (value: number, [least, most]: readonly [number, number]): boolean =>
  value >= least && value <= most;

export interface Tuned extends LifeSettings {
  readonly on: boolean;
  /** null: as the rule says */
  readonly severity: Severity | null;
}

/** The unit's own settings before the site's, before the rule's. */
export function tunedFor(rule: RuleId, unit: string | null, tuning: Tuning): Tuned {
  const base = isAlarmRule(rule)
    ? alarmRule(rule)
    : { onDelaySeconds: 0, offDelaySeconds: 0, latches: false };
  const ofSite = tuning.find((one) => one.rule === rule && one.unit === null);
  const ofUnit = unit === null ? undefined : tuning.find((one) => one.rule === rule && one.unit === unit);
  const said = { ...ofSite, ...withoutUndefined(ofUnit) };
  return {
    on: said.on ?? true,
    severity: said.severity ?? null,
    onDelaySeconds: said.onDelaySeconds ?? base.onDelaySeconds,
    offDelaySeconds: said.offDelaySeconds ?? base.offDelaySeconds,
    latches: base.latches,
  };
}

const withoutUndefined = (one: RuleTuning | undefined): Partial<RuleTuning> =>
  Object.fromEntries(Object.entries(one ?? {}).filter(([, value]) => value !== undefined));
