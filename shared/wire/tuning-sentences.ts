import { ALARM_RULES, RULES, type RuleId } from '../alarms/rules.ts';
import { tunedFor, type RuleTuning, type Tuning } from '../alarms/tuning.ts';
import { ALARM_TERMS, TASK_TERMS } from './alarm-sentences.ts';

/** What is set of alarm rules, in words: what a change changes, and how much isn't as usual. */
export const RULE_TERMS: Readonly<Record<RuleId, string>> = { ...ALARM_TERMS, ...TASK_TERMS };

type Field = 'on' | 'severity' | 'onDelaySeconds' | 'offDelaySeconds';
const FIELDS: readonly Field[] = ['on', 'severity', 'onDelaySeconds', 'offDelaySeconds'];
const FIELD_WORDS: Record<Field, string> = {
  on: '',
  severity: 'severity',
  onDelaySeconds: 'on-delay',
  offDelaySeconds: 'off-delay',
};

/** Lines such as `Left unit, No control power: on-delay 60 s → 90 s`; none: nothing is other. */
export function tuningChanges(before: Tuning, after: Tuning, unitName: (unit: string) => string): string[] {
  const keys = new Map<string, Pick<RuleTuning, 'rule' | 'unit'>>();
  for (const { rule, unit } of [...before, ...after]) keys.set(`${rule} ${unit ?? ''}`, { rule, unit });
  return [...keys.values()].flatMap(({ rule, unit }) => {
    const where = unit === null ? '' : `${unitName(unit)}, `;
    const was = effective(rule, unit, before);
    const is = effective(rule, unit, after);
    return FIELDS.flatMap((field) =>
      was[field] === is[field]
        ? []
        : [`${where}${RULE_TERMS[rule]}: ${fieldText(field, was[field], is[field])}`],
    );
  });
}

function effective(rule: RuleId, unit: string | null, tuning: Tuning): Record<Field, unknown> {
  const { on, severity, onDelaySeconds, offDelaySeconds } = tunedFor(rule, unit, tuning);
  const usual = rule in ALARM_RULES ? ALARM_RULES[rule as keyof typeof ALARM_RULES].severity : null;
  return { on, severity: severity ?? usual, onDelaySeconds, offDelaySeconds };
}

function fieldText(field: Field, was: unknown, is: unknown): string {
  if (field === 'on') return is === true ? 'switched on' : 'switched off';
  const measure = field === 'severity' ? '' : ' s';
  return `${FIELD_WORDS[field]} ${String(was)}${measure} → ${String(is)}${measure}`;
}

/** Is it all as usual here? The page's first line. */
export function tuningLine(tuning: Tuning, unitName: (unit: string) => string): string {
  const others = tuningChanges([], tuning, unitName).length;
  if (others === 0) return `All ${Object.keys(RULES).length} alarm rules are as usual here.`;
  return `${others} ${others === 1 ? 'setting' : 'settings'} of the alarm rules ${others === 1 ? 'is' : 'are'} other than usual here.`;
}
