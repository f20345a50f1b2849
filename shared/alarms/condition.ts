import type { Instant } from '../base/instant.ts';
import type { Span } from '../base/span.ts';
import type { Certainty, EventCause, EventDraft } from '../inference/event.ts';
import type { Site } from '../telemetry/site.ts';
import { countedIn } from './counted.ts';
import { holdsInRow } from './holds.ts';
import { supplyLosses } from './power.ts';
import { failedRepairs, type Repair } from './repair.ts';
import { notSeparate } from './restarts.ts';
import { RULES, type From, type RuleId } from './rules.ts';
import type { Severity } from './severity.ts';

/** What stands, or stood until lately, that a rule makes an alarm or a task of. One for each rule and subject. */
export interface Condition {
  /** rule, subject and discriminator: an alarm keeps it while events are amended and replaced */
  readonly key: string;
  readonly rule: RuleId;
  readonly subject: AlarmSubject;
  readonly since: Span;
  /** null while it stands */
  readonly end: Span | null;
  readonly severity: Severity;
  readonly cause: EventCause | null;
  readonly certainty: Certainty;
  readonly causeCertainty: Certainty | null;
  /** ids of the events that it leans on, the oldest first */
  readonly events: readonly string[];
  /** units that a loss of cooling names, or that a power loss has taken */
  readonly members: readonly string[];
}

export interface AlarmSubject {
  readonly kind: 'site' | 'panel' | 'space' | 'unit' | 'gateway' | 'point';
  /** its id; of a point `<device>/<signal>`; of the site `site` */
  readonly device: string;
  readonly unit: string | null;
  readonly space: string | null;
  readonly panel: string | null;
}

/** What the rules look at beside the events. */
export interface Beside {
  readonly site: Site;
  /** through when events are known, in event time */
  readonly through: Instant;
  /** closed of late by a person */
  readonly repairs: readonly Repair[];
  /** did somebody work on this unit then: such events count for nothing (handbook 7, work in progress) */
  readonly wasWorkedOn: (unit: string, at: Instant) => boolean;
  /** was control power of the unit seen after the instant, and is it still */
  readonly isPowered: (unit: string, after: Instant) => boolean;
  /** is the space in use at the instant, and above its limit */
  readonly isHotInUse: (space: string) => boolean;
}

const subjectKey = ({ kind, device }: Pick<AlarmSubject, 'kind' | 'device'>): string => `${kind}/${device}`;

const keyOf = (rule: RuleId, subject: AlarmSubject, discriminator: string): string =>
  [rule, subjectKey(subject), ...(discriminator === '' ? [] : [discriminator])].join(':');

/** Every condition that stands, and those that ended lately; newest of each key. */
export function conditionsOf(events: readonly EventDraft[], beside: Beside): Condition[] {
  const found = new Map<string, Condition>();
  for (const [id, rule] of Object.entries(RULES) as [RuleId, { from: From }][])
    for (const condition of conditionsBy(id, rule.from, events, beside)) {
      const before = found.get(condition.key);
      found.set(condition.key, before ? newer(before, condition) : condition);
    }
  return leftShort([...found.values()]);
}

function conditionsBy(
  rule: RuleId,
  from: From,
  events: readonly EventDraft[],
  beside: Beside,
): readonly Condition[] {
  const fitting = events.filter((event) => fits(event, from));
  switch (from.by) {
    case 'power':
      return supplyLosses(fitting, beside).map((loss) => ({
        ...loss,
        rule,
        key: keyOf(rule, loss.subject, ''),
      }));
    case 'holds-in-row':
      return holdsInRow(fitting, events, beside.through).map((event) => conditionOf(rule, event, beside));
    case 'repairs':
      return failedRepairs(fitting, events, beside.repairs).map((event) => conditionOf(rule, event, beside));
    case 'restarts':
      return notSeparate(fitting, events).map((event) => conditionOf(rule, event, beside));
    default:
      return from.count
        ? counted(rule, from.count, fitting, beside)
        : fitting.map((event) => conditionOf(rule, event, beside));
  }
}

/** What happened during work counts for nothing. */
function counted(
  rule: RuleId,
  count: NonNullable<From['count']>,
  events: readonly EventDraft[],
  beside: Beside,
): Condition[] {
  const own = events.filter(({ unit, start }) => unit === null || !beside.wasWorkedOn(unit, start.latest));
  return countedIn(own, count, beside.through).map(({ event, end, ids }) => ({
    ...conditionOf(rule, { ...event, end, discriminator: '' }, beside),
    events: ids,
  }));
}

const RANK: Record<Certainty, number> = { certain: 2, probable: 1, possible: 0 };

/** Is it one that a rule looks at? */
export const fits = (event: EventDraft, { kind, causes, least }: From): boolean =>
  event.kind === kind &&
  (causes === undefined || (event.cause !== null && causes.includes(event.cause))) &&
  RANK[event.certainty] >= RANK[least];

function conditionOf(rule: RuleId, event: EventDraft, beside: Beside): Condition {
  const subject = subjectOf(event);
  return {
    key: keyOf(rule, subject, event.discriminator),
    rule,
    subject,
    since: event.start,
    end: event.end,
    severity: severityOf(rule, event, beside),
    cause: event.cause,
    certainty: event.certainty,
    causeCertainty: event.causeCertainty,
    events: [event.id],
    members: event.members,
  };
}

function subjectOf(event: EventDraft): AlarmSubject {
  const { unit, space, panel } = event;
  const place = { unit, space, panel };
  if (event.point !== undefined) return { kind: 'point', device: event.point, ...place };
  if (event.gateway !== undefined) return { kind: 'gateway', device: event.gateway, ...place };
  if (unit !== null) return { kind: 'unit', device: unit, ...place };
  if (space !== null) return { kind: 'space', device: space, ...place };
  if (panel !== null) return { kind: 'panel', device: panel, ...place };
  return { kind: 'site', device: 'site', ...place };
}

/** A task has no severity; it reads the least. */
function severityOf(id: RuleId, event: EventDraft, { isHotInUse }: Beside): Severity {
  const rule = RULES[id];
  if (rule.as === 'task') return 'minor';
  if (id === 'stuck-contactor' && event.measures['withPressureTrip'] === 1) return 'critical';
  if (id === 'weak-cooling' && event.space !== null && isHotInUse(event.space)) return 'major';
  return rule.severity;
}

/** A hard lockout is critical where its space has lost its cooling with it (handbook 7). */
function leftShort(conditions: readonly Condition[]): Condition[] {
  const lost = conditions.filter(({ rule, end }) => rule === 'cooling-lost' && end === null);
  return conditions.map((one) =>
    one.rule === 'hard-lockout' && lost.some(({ members }) => members.includes(one.subject.unit ?? ''))
      ? { ...one, severity: 'critical' }
      : one,
  );
}

/** What stands goes before what is over; of two that stand the older began it, of two that are over the newer counts. */
function newer(a: Condition, b: Condition): Condition {
  if (a.end === null && b.end === null) return a.since.latest <= b.since.latest ? joined(a, b) : joined(b, a);
  if (a.end === null || b.end === null) return a.end === null ? a : b;
  return a.end.latest >= b.end.latest ? a : b;
}

const joined = (first: Condition, second: Condition): Condition => ({
  ...first,
  events: [...new Set([...first.events, ...second.events])],
});
