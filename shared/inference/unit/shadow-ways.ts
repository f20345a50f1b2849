import { OFF_DELAY_RANGE } from '../members/wired.ts';
import { seconds, type Instant } from '../../base/instant.ts';
import { later, type Span } from '../../base/span.ts';
import type { Certainty } from '../event.ts';
import type { Edge } from '../track.ts';
import { powerUpDelayOf, type Moment } from './moment.ts';
import type { Suspect } from './shadow.ts';
import type { Gateway } from '../../telemetry/site.ts';
import type { Role, Wire, Wiring } from './wiring.ts';

/**
 * In which ways a seen output can contradict every control that fits what was seen (handbook 2.2 and 4 rule 11). Each
 * says from when on the reference control must do the other, whatever its variant and its delays, and how long that has
 * to last before it is beyond resolution, polling and the clocks of two gateways.
 */
export type Way =
  | 'on-without-power'
  | 'on-without-call'
  | 'on-with-high-pressure'
  | 'on-with-low-pressure'
  | 'off-with-call'
  | 'never-latches';

type Found = Pick<Suspect, 'since' | 'dueAt'> | null;

interface Disagreement {
  readonly roles: readonly Role[];
  readonly suspect: (moment: Moment, at: Instant) => Found;
  readonly certainty: (moment: Moment) => Certainty;
}

/** Output against an input: the same grace as output against current (handbook 4 rule 9). */
const GRACE = seconds(2);
/** A timer further off than this isn't a matter of setting any more [from memory]. */
const FAR_OFF = 1.25;
/** Between two polls further apart an outage can hide that sets a delay going [from memory]. */
const CLOSE_POLL = seconds(10);
/** A unit that doesn't come back after power is its panel's restart sequence to tell. */
const AFTER_POWER = seconds(900);

/** What each leans on: nothing of it may move until it is judged. */
const POWER: readonly Role[] = ['power', 'output'];
const CALL: readonly Role[] = ['call', 'output'];
const HIGH: readonly Role[] = ['high', 'call', 'output'];
const LOW: readonly Role[] = ['low', 'call', 'output'];
const ANSWER: readonly Role[] = ['call', 'power', 'level', 'high', 'output'];
const LATCH: readonly Role[] = ['call', 'power', 'output'];

export const DISAGREEMENTS: Readonly<Record<Way, Disagreement>> = {
  'on-without-power': {
    roles: POWER,
    certainty: (moment) => asReported(moment, POWER),
    suspect: (moment) => {
      const power = seen(moment, 'power', 0);
      const holdUp = seconds(moment.wiring.protection.holdUp.value);
      return power && onAgainst(moment, power, POWER, GRACE + holdUp);
    },
  },
  'on-without-call': {
    roles: CALL,
    certainty: (moment) => asReported(moment, CALL),
    suspect: (moment) => {
      const call = isOwnCall(moment) ? seen(moment, 'call', 0) : null;
      // power, which feeds the call, explains both; what is left begins with its return
      const power = moment.belief.shadow.now.power;
      if (!call || power?.to === 0) return null;
      return onAgainst(moment, power ? later(call, power) : call, CALL, GRACE);
    },
  },
  'on-with-high-pressure': {
    roles: HIGH,
    certainty: (moment) => asReported(moment, ['high', 'output']),
    suspect: (moment) => {
      const high = readable(moment, 'high', 1);
      return high && onAgainst(moment, high, HIGH, GRACE);
    },
  },
  'on-with-low-pressure': {
    roles: LOW,
    // how long it is tolerated is only written down
    certainty: () => 'probable',
    suspect: lowIgnored,
  },
  'off-with-call': {
    roles: ANSWER,
    certainty: (moment) => asReported(moment, ['power', 'output']),
    suspect: callIgnored,
  },
  'never-latches': {
    roles: LATCH,
    // a break of the call too short to be seen would have had to come twice
    certainty: () => 'probable',
    suspect: neverLatches,
  },
};

export const WAYS = Object.keys(DISAGREEMENTS) as readonly Way[];

/** The decided edge since which a role's value is `value`. */
function seen({ belief, wiring }: Moment, role: Role, value: number): Edge | null {
  const edge = belief.shadow.now[role];
  return wiring.byRole[role] && edge?.to === value ? edge : null;
}

const isOwnCall = ({ wiring }: Moment): boolean => wiring.byRole.call?.point.sense === 'own';

/** A pressure switch seen open (1) or closed (0), and since when that means anything: in a loop, since the call is there. */
function readable(moment: Moment, role: 'high' | 'low', value: 0 | 1): Span | null {
  const edge = seen(moment, role, value);
  if (!edge || moment.wiring.byRole[role]!.point.sense === 'isolated') return edge;
  if (!isOwnCall(moment) || !moment.wiring.byRole.call!.onChange) return null;
  const call = seen(moment, 'call', 1);
  return call && later(edge, call);
}

/** The output is on though an input asks for off: since the later of the two. */
function onAgainst(moment: Moment, input: Span, roles: readonly Role[], grace: number): Found {
  const on = seen(moment, 'output', 1);
  if (!on) return null;
  const since = later(input, on);
  return { since, dueAt: since.latest + grace + slackOf(moment, roles) };
}

/** Handbook 2.2 rule 4: tolerated for the bypass, counted from the opening or the start, whichever is later. */
function lowIgnored(moment: Moment): Found {
  const { lowPressureBypass: bypass, settingError, tolerance } = moment.wiring.protection;
  const low = moment.wiring.byRole.low?.onChange ? readable(moment, 'low', 1) : null;
  const on = seen(moment, 'output', 1);
  if (!low || !on || bypass.known !== 'recorded') return null;
  const from = later(low, on);
  const slack = seconds(settingError) + slackOf(moment, LOW);
  const since = {
    earliest: from.earliest + seconds(bypass.value * (1 - tolerance)),
    latest: from.latest + seconds(bypass.value * FAR_OFF) + slack,
  };
  return { since, dueAt: since.latest + GRACE };
}

/**
 * Handbook 2.2 rule 2: called, with power, voltage and the high-pressure switch well all along, no stop in this call, and
 * every wait that can be set over. It is told once another such wait has passed: one break too short to be seen may have
 * set a delay going once more.
 */
function callIgnored(moment: Moment): Found {
  const { belief, wiring } = moment;
  const { callBreak, waitFrom } = belief.shadow;
  const call = isOwnCall(moment) && wiring.byRole.call!.onChange ? seen(moment, 'call', 1) : null;
  if (call?.from !== 0 || !callBreak || waitFrom === null || !seen(moment, 'output', 0)) return null;
  if (call.earliest - callBreak.latest < GRACE || !isWell(moment, call) || !mayStart(moment, call))
    return null;
  const longest = longestWait(moment);
  const ready = waitFrom + longest;
  const since = {
    earliest: Math.max(call.earliest, ready),
    latest: Math.max(call.latest + GRACE + slackOf(moment, ANSWER), ready),
  };
  return { since, dueAt: since.latest + longest };
}

/** Power and voltage present, the high-pressure switch closed since before the call, all of it seen. */
function isWell(moment: Moment, call: Span): boolean {
  const { wiring, belief } = moment;
  const power = wiring.byRole.power;
  const level = belief.shadow.now.level?.to ?? null;
  if (!power || !seen(moment, 'power', 1) || power.period > CLOSE_POLL) return false;
  if (level === null || level === 1 || level === 2) return false;
  const high = wiring.byRole.high?.onChange ? seen(moment, 'high', 0) : null;
  if (!high) return false;
  const isolated = wiring.byRole.high!.point.sense === 'isolated';
  return isolated ? high.latest <= call.earliest - GRACE : high.latest <= call.latest + GRACE;
}

/** Nothing that another rule tells holds it off: a lockout, a restart after an outage, the generator. */
function mayStart({ belief, wiring }: Moment, call: Span): boolean {
  const { now } = belief.shadow;
  if (belief.soft || belief.hard || belief.hold || now.alarm?.to === 1) return false;
  if (wiring.unit.equipment === 'heat-pump' || !wiring.unit.allowedOnGenerator) return false;
  if (now.output!.latest > call.earliest) return false;
  return !(now.power!.from === 0 && call.earliest - now.power!.latest < AFTER_POWER);
}

/** The longest that any delay can hold it off, µs: as can be set, as is recorded, as was seen. */
function longestWait({ belief, wiring }: Moment): number {
  const { offDelay, settingError } = wiring.protection;
  const bracket = belief.brackets.offDelay?.seconds[1] ?? 0;
  const longest = Math.max(seconds(OFF_DELAY_RANGE[1]), seconds(offDelay.value), seconds(bracket));
  return Math.max(longest, powerUpDelayOf(wiring)) * FAR_OFF + seconds(settingError);
}

/**
 * Handbook 2.2 rules 3 to 5: a second stop by one switch in one call latches, whichever stops are counted together. A
 * restart after it may be a call break too short to be seen; after the fourth that would have had to come twice.
 */
function neverLatches(moment: Moment): Found {
  const { belief, wiring } = moment;
  const on = seen(moment, 'output', 1);
  const sensed = isOwnCall(moment) && wiring.byRole.call!.onChange && wiring.byRole.power?.onChange;
  if (!on || on.from !== 0 || !sensed || wiring.unit.equipment === 'heat-pump') return null;
  const stops = belief.call?.stops ?? [];
  const last = stops.at(-1)?.cause;
  const surely = stops.filter(({ cause, certainty }) => cause === last && certainty === 'certain');
  if (surely.length < 4 || surely.at(-1) !== stops.at(-1)) return null;
  const since = { earliest: on.earliest, latest: on.latest };
  return { since, dueAt: since.latest + GRACE };
}

/** Worked out once for a wiring: it is asked at each start and stop. */
const slacks = new WeakMap<Wiring, Map<readonly Role[], number>>();

/** What two polls can hide, and by how much the clocks of two gateways may differ, µs. */
function slackOf({ wiring, context }: Moment, roles: readonly Role[]): number {
  let known = slacks.get(wiring);
  if (!known) slacks.set(wiring, (known = new Map()));
  let slack = known.get(roles);
  if (slack === undefined) known.set(roles, (slack = slackBetween(wiring, context.site.gateways, roles)));
  return slack;
}

function slackBetween(wiring: Wiring, gateways: readonly Gateway[], roles: readonly Role[]): number {
  const wires = roles.map((role) => wiring.byRole[role]).filter((wire): wire is Wire => wire !== undefined);
  const period = Math.max(...wires.map((wire) => wire.period));
  const involved = new Set(wires.map((wire) => wire.point.gateway));
  if (involved.size < 2) return 2 * period;
  const clocks = gateways.filter(({ id }) => involved.has(id));
  return 2 * period + seconds(clocks.reduce((sum, one) => sum + one.clockUncertaintySeconds, 0));
}

/** Between two polls an input may have come and gone: then it needs a coincidence at each. */
const asReported = ({ wiring }: Moment, roles: readonly Role[]): Certainty =>
  roles.every((role) => wiring.byRole[role]?.onChange) ? 'certain' : 'probable';
