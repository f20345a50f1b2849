import type { Certainty, EventCause, EventKind } from '../inference/event.ts';
import type { Severity } from './severity.ts';

/**
 * Which events make which alarm or task: the table of handbook 7 as data. Delays are seconds of event time. Bounds say how
 * far a manager may tune them (tuning.ts); on-delays without a figure in the handbook, all off-delays and all bounds are
 * settings of ours [from memory]. Severities and latching are the handbook's.
 */
export interface AlarmRule {
  readonly as: 'alarm';
  readonly severity: Severity;
  readonly severities: readonly Severity[];
  readonly onDelaySeconds: number;
  readonly onDelayBounds: readonly [least: number, most: number];
  readonly offDelaySeconds: number;
  /** stays until a person closes it, whatever its condition does */
  readonly latches: boolean;
  readonly from: From;
}

export interface TaskRule {
  readonly as: 'task';
  readonly from: From;
}

/** The events that a rule looks at. */
export interface From {
  readonly kind: EventKind;
  /** any of these; absent: whatever the cause */
  readonly causes?: readonly EventCause[];
  /** what is less sure than this makes no alarm and no task */
  readonly least: Certainty;
  /** so many of one subject that began within so long; it holds until none began for `quietSeconds` */
  readonly count?: { readonly least: number; readonly withinSeconds: number; readonly quietSeconds: number };
  /** what the kind alone doesn't say is worked out by a rule of its own (`condition.ts`) */
  readonly by?: 'power' | 'holds-in-row' | 'restarts' | 'repairs';
}

const HOUR = 3600;
const DAY = 24 * HOUR;
const OFF_DELAY_BOUNDS = [0, 600] as const;
export const offDelayBounds = OFF_DELAY_BOUNDS;

type AlarmChoice = Pick<AlarmRule, 'severity' | 'onDelaySeconds' | 'from'> & Partial<AlarmRule>;

const alarm = (rule: AlarmChoice): AlarmRule => ({
  as: 'alarm',
  severities: ['critical', 'major', 'minor'],
  onDelayBounds: [0, 600],
  offDelaySeconds: 0,
  latches: false,
  ...rule,
});
const task = (from: From): TaskRule => ({ as: 'task', from });
const unlessPossible = { least: 'probable' } as const;

export const ALARM_RULES = {
  'cooling-lost': alarm({
    severity: 'critical',
    severities: ['critical'],
    onDelaySeconds: 60,
    from: { kind: 'loss-of-cooling', causes: ['lost'], ...unlessPossible },
  }),
  'high-temperature': alarm({
    severity: 'critical',
    severities: ['critical'],
    onDelaySeconds: 60,
    from: { kind: 'high-temperature', causes: ['measured'], ...unlessPossible },
  }),
  'high-temperature-forecast': alarm({
    severity: 'major',
    onDelaySeconds: 60,
    from: { kind: 'high-temperature', causes: ['forecast'], least: 'possible' },
  }),
  // critical where it leaves its space short (condition.ts)
  'hard-lockout': alarm({
    severity: 'major',
    severities: ['critical', 'major'],
    onDelaySeconds: 0,
    latches: true,
    from: { kind: 'hard-lockout', ...unlessPossible },
  }),
  // the first stop after a repair that a person has closed, for the same cause (repair.ts)
  'repair-failed': alarm({
    severity: 'major',
    severities: ['critical', 'major'],
    onDelaySeconds: 0,
    latches: true,
    from: { kind: 'soft-lockout', ...unlessPossible, by: 'repairs' },
  }),
  'cooling-reduced': alarm({
    severity: 'major',
    onDelaySeconds: 0,
    latches: true,
    from: { kind: 'loss-of-cooling', causes: ['reduced'], ...unlessPossible },
  }),
  'hard-lockout-again': alarm({
    severity: 'major',
    onDelaySeconds: 0,
    latches: true,
    from: {
      kind: 'hard-lockout',
      ...unlessPossible,
      count: { least: 2, withinSeconds: 7 * DAY, quietSeconds: 0 },
    },
  }),
  'power-loss': alarm({
    severity: 'major',
    severities: ['critical', 'major'],
    onDelaySeconds: 60,
    from: { kind: 'power-loss', causes: ['supply'], ...unlessPossible, by: 'power' },
  }),
  'unit-power-loss': alarm({
    severity: 'major',
    onDelaySeconds: 60,
    from: { kind: 'power-loss', ...unlessPossible },
  }),
  // critical with a pressure trip (condition.ts)
  'stuck-contactor': alarm({
    severity: 'major',
    severities: ['critical', 'major'],
    onDelaySeconds: 0,
    onDelayBounds: [0, 10],
    latches: true,
    from: { kind: 'stuck-contactor', ...unlessPossible },
  }),
  'failed-start': alarm({
    severity: 'major',
    onDelaySeconds: 10,
    onDelayBounds: [0, 10],
    latches: true,
    from: { kind: 'failed-start', ...unlessPossible },
  }),
  'undervoltage-in-a-row': alarm({
    severity: 'major',
    onDelaySeconds: 0,
    onDelayBounds: [0, 10],
    latches: true,
    from: { kind: 'undervoltage-hold', ...unlessPossible, by: 'holds-in-row' },
  }),
  // major where a space in use is above its limit (condition.ts)
  'weak-cooling': alarm({
    severity: 'minor',
    severities: ['major', 'minor'],
    onDelaySeconds: 0,
    from: { kind: 'weak-cooling', least: 'possible' },
  }),
  'gateway-silent': alarm({
    severity: 'major',
    onDelaySeconds: 180,
    onDelayBounds: [0, 3600],
    from: { kind: 'telemetry-gap', causes: ['gateway-silent'], ...unlessPossible },
  }),
} as const satisfies Record<string, AlarmRule>;

export const TASK_RULES = {
  'setting-mismatch': task({ kind: 'setting-mismatch', ...unlessPossible }),
  'starts-not-separate': task({
    kind: 'simultaneous-start',
    causes: ['after-power-return'],
    ...unlessPossible,
    by: 'restarts',
  }),
  'alarm-circuit': task({ kind: 'alarm-circuit-fault', ...unlessPossible }),
  'second-soft-lockout': task({
    kind: 'soft-lockout',
    ...unlessPossible,
    count: { least: 2, withinSeconds: DAY, quietSeconds: DAY },
  }),
  'short-cycling': task({
    kind: 'short-cycle',
    least: 'certain',
    count: { least: 3, withinSeconds: HOUR, quietSeconds: DAY },
  }),
  'undervoltage-holds': task({
    kind: 'undervoltage-hold',
    ...unlessPossible,
    count: { least: 2, withinSeconds: HOUR, quietSeconds: DAY },
  }),
  'point-silent': task({ kind: 'telemetry-gap', causes: ['point-silent'], ...unlessPossible }),
  'repeated-reset': task({
    kind: 'repeated-reset',
    ...unlessPossible,
    count: { least: 1, withinSeconds: DAY, quietSeconds: DAY },
  }),
} as const satisfies Record<string, TaskRule>;

export type AlarmRuleId = keyof typeof ALARM_RULES;
export type TaskRuleId = keyof typeof TASK_RULES;
export type RuleId = AlarmRuleId | TaskRuleId;

export const ALARM_RULE_IDS = Object.keys(ALARM_RULES) as AlarmRuleId[];
export const TASK_RULE_IDS = Object.keys(TASK_RULES) as TaskRuleId[];
export const RULES: Readonly<Record<RuleId, AlarmRule | TaskRule>> = { ...ALARM_RULES, ...TASK_RULES };
export const alarmRule = (id: AlarmRuleId): AlarmRule => ALARM_RULES[id];

/** How far back ended events of a kind still count, in seconds: a site's decision is given them. */
export const LOOK_BACK: Readonly<Partial<Record<EventKind, number>>> = {
  'hard-lockout': 7 * DAY,
  'soft-lockout': 2 * DAY,
  'short-cycle': DAY + HOUR,
  'undervoltage-hold': DAY + HOUR,
  'repeated-reset': DAY,
  'compressor-run': 2 * HOUR,
  'power-loss': 7 * DAY,
  'simultaneous-start': 30 * DAY,
  'restart-sequence': 30 * DAY,
};

/** The kinds of events that rules look at, and those that tell them more. */
export const RULED_KINDS: ReadonlySet<EventKind> = new Set([
  ...Object.values(RULES).map(({ from }) => from.kind),
  'restart-sequence',
]);

/** Does a change of this event call for a decision? Of runs only what undervoltage has ended tells anything. */
export const isRuled = ({
  kind,
  cause,
}: {
  readonly kind: EventKind;
  readonly cause: EventCause | null;
}): boolean => RULED_KINDS.has(kind) || (kind === 'compressor-run' && cause === 'undervoltage');
