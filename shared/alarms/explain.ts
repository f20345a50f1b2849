import { seconds, type Instant } from '../base/instant.ts';
import type { Site, Unit } from '../telemetry/site.ts';
import type { Condition } from './condition.ts';
import type { AlarmRuleId } from './rules.ts';

/**
 * One cause, one alarm (handbook 7): which condition is the consequence of which other. What is explained is suppressed by
 * design and listed under its root, and goes on evaluating. An outage explains its units' losses, the loss of cooling
 * meanwhile and the waits to restart after it; a unit that can't run explains what its space is short of. A measured high
 * temperature is never explained: the room is too hot, whatever else is known.
 *
 * Nothing worse than its root is hidden: a root takes the worst severity of what it explains (decide.ts), and one that a
 * person has hidden explains nothing worse than what it was then.
 */
export interface Explaining {
  readonly site: Site;
  readonly through: Instant;
  /** is the state of this condition's own subject known now? One that isn't suppresses nothing */
  readonly isKnown: (condition: Condition) => boolean;
}

/**
 * After the power-up delay a unit has this long to prove that it came back (handbook 7). What other causes leave behind has
 * as long to go with them: a room's fold hears of its units a moment after they are told of.
 */
const PROVING_SECONDS = 60;

type Explains = (root: Condition, of: Condition, given: Explaining) => boolean;

const anyPanel: Explains = (_, { subject }) => subject.kind === 'panel';
const sameLoss: Explains = (root, of) => of.events.some((id) => root.events.includes(id));
const sameSpace: Explains = (root, of) => root.subject.space === of.subject.space;
const sameUnit: Explains = (root, of) => root.subject.unit === of.subject.unit;
const ofItsSpace: Explains = (root, of) => of.members.includes(root.subject.unit ?? '');
const ofItsGateway: Explains = (root, of, { site }) =>
  gatewayOf(site, of.subject.device) === root.subject.device;

/** Every unit that the space lacks is one that the outage took. */
const lackedByOutage: Explains = (root, of) =>
  of.members.length > 0 && of.members.some((unit) => root.members.includes(unit));

interface Relation {
  readonly root: AlarmRuleId;
  readonly of: Condition['rule'];
  readonly explains: Explains;
}

const unitAtFault = ['hard-lockout', 'unit-power-loss', 'failed-start', 'undervoltage-in-a-row'] as const;
const shortOfCooling = ['cooling-lost', 'cooling-reduced'] as const;

/** In order of preference: the widest cause first. */
const RELATIONS: readonly Relation[] = [
  {
    root: 'power-loss',
    of: 'power-loss',
    explains: (a, b, given) => a.subject.kind === 'site' && anyPanel(a, b, given),
  },
  { root: 'power-loss', of: 'unit-power-loss', explains: sameLoss },
  ...shortOfCooling.map((of): Relation => ({ root: 'power-loss', of, explains: lackedByOutage })),
  ...unitAtFault.flatMap((root) =>
    shortOfCooling.map((of): Relation => ({ root, of, explains: ofItsSpace })),
  ),
  { root: 'repair-failed', of: 'hard-lockout', explains: sameUnit },
  { root: 'hard-lockout', of: 'hard-lockout-again', explains: sameUnit },
  { root: 'cooling-lost', of: 'cooling-reduced', explains: sameSpace },
  { root: 'high-temperature', of: 'high-temperature-forecast', explains: sameSpace },
  { root: 'cooling-lost', of: 'high-temperature-forecast', explains: sameSpace },
  { root: 'cooling-reduced', of: 'high-temperature-forecast', explains: sameSpace },
  { root: 'gateway-silent', of: 'point-silent', explains: ofItsGateway },
];

export interface Explanation {
  /** key of the condition that explains it */
  readonly by: string;
  /** event time through which it explains, where its root is over; null: while the root stands */
  readonly until: Instant | null;
}

/** By key of what is explained. Where a site's loss and a panel's both fit, the panel's is the nearer root. */
export function explain(conditions: readonly Condition[], given: Explaining): Map<string, Explanation> {
  const found = new Map<string, Explanation>();
  for (const of of conditions) {
    if (of.end !== null) continue;
    const explanation = explanationOf(of, conditions, given);
    if (explanation) found.set(of.key, explanation);
  }
  return found;
}

function explanationOf(
  of: Condition,
  conditions: readonly Condition[],
  given: Explaining,
): Explanation | null {
  for (const { root, explains } of RELATIONS.filter((relation) => relation.of === of.rule))
    for (const one of conditions) {
      if (one.rule !== root || one.key === of.key || !explains(one, of, given)) continue;
      const until = untilOf(one, of, given);
      if (until !== 'over' && given.isKnown(one)) return { by: one.key, until };
    }
  return null;
}

/** A root that is over explains on for 60 s; an outage, while units wait their power-up delays, and 60 s more. */
function untilOf(root: Condition, of: Condition, { site, through }: Explaining): Instant | null | 'over' {
  if (root.end === null) return null;
  if (of.rule === 'power-loss') return 'over';
  const grace = root.rule === 'power-loss' ? graceOf(of, site) : seconds(PROVING_SECONDS);
  const until = root.end.latest + grace;
  if (of.since.latest > until) return 'over';
  return through < until ? until : 'over';
}

/** The longest wait of the units that it is about, and the proving time, µs. */
function graceOf({ subject, members }: Condition, site: Site): number {
  const units = site.units.filter(({ id }) => id === subject.unit || members.includes(id));
  return seconds(Math.max(0, ...units.map(powerUpSeconds)) + PROVING_SECONDS);
}

/** The power-up delay at its longest within tolerance (handbook 2.1). */
function powerUpSeconds({ protection }: Unit): number {
  const { powerUpBase, powerUpShare, offDelay, tolerance } = protection;
  return (powerUpBase.value + powerUpShare.value * offDelay.value) * (1 + tolerance);
}

function gatewayOf(site: Site, key: string): string | null {
  const points = [
    ...site.points,
    ...site.panels.flatMap((one) => one.points),
    ...site.units.flatMap((one) => one.points),
    ...site.spaces.flatMap((one) => one.points),
  ];
  return points.find(({ device, signal }) => `${device}/${signal}` === key)?.gateway ?? null;
}
