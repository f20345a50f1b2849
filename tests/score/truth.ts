import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { ControlChange } from '../../shared/control/state.ts';
import type { EventCause, EventKind } from '../../shared/inference/event.ts';
import type { Protection } from '../../shared/telemetry/site.ts';
import { stretches, valueAt, type Stretch, type TraceSignal } from './trace.ts';
import type { UnitPlant } from './unit-plant.ts';

/** An event that really was one by contract section 4, at its exact time. */
export interface TrueEvent {
  readonly kind: EventKind;
  /** null: none to judge */
  readonly cause: EventCause | null;
  readonly start: Instant;
  /** null: it lasts; undefined: its end isn't judged */
  readonly end: Instant | null | undefined;
  readonly discriminator: string;
  /** false: the handbook lets it be read either way, so that it counts neither as found nor as missed */
  readonly needed: boolean;
  /** what must have been seen for it to be known: stretches of signals */
  readonly leansOn: readonly Leaning[];
  /** the off time that it is judged by is as long as a power-up delay: an outage too short to be seen would fit (rule 7) */
  readonly fitsPowerUp: boolean;
  /** where it may have been seen to begin already, by a reading that the handbook leaves open */
  readonly orFrom: readonly Instant[];
}

export interface Leaning extends Stretch {
  readonly signal: TraceSignal;
}

export interface TruthInput {
  readonly unit: UnitPlant;
  /** what is written down, from each instant on */
  readonly recorded: readonly { readonly from: Instant; readonly protection: Protection }[];
  readonly alarmInverted: boolean;
  readonly to: Instant;
}

interface Facts extends TruthInput {
  readonly runs: readonly Stretch[];
  readonly calls: readonly Stretch[];
  readonly outages: readonly Stretch[];
  protectionAt(at: Instant): Protection;
}

export function truthOf(input: TruthInput): TrueEvent[] {
  const { trace } = input.unit;
  const facts: Facts = {
    ...input,
    runs: stretches(trace.output, (value) => value === 1),
    calls: stretches(trace.call, (value) => value === 1),
    outages: stretches(trace.volts, (value) => value < 5),
    protectionAt: (at) => input.recorded.findLast(({ from }) => from <= at)!.protection,
  };
  return [
    ...runs(facts),
    ...softLockouts(facts),
    ...hardLockouts(facts),
    ...holds(facts),
    ...starts(facts),
    ...conductor(facts),
    ...alarmFaults(facts),
  ].sort((a, b) => a.start - b.start);
}

const event = (
  parts: Pick<TrueEvent, 'kind' | 'cause' | 'start' | 'end'> & Partial<TrueEvent>,
): TrueEvent => ({
  discriminator: '',
  needed: true,
  leansOn: [],
  orFrom: [],
  fitsPowerUp: false,
  ...parts,
});

const leaning = (signal: TraceSignal, stretch: Stretch | undefined): Leaning[] =>
  stretch ? [{ signal, from: stretch.from, to: stretch.to }] : [];

const holding = (all: readonly Stretch[], at: Instant): Stretch | undefined =>
  all.find(({ from, to }) => from <= at && at < to);

/** The stretch in which the output was off from `at` on, and the one before. */
const offAfter = ({ runs }: Facts, at: Instant): Stretch => ({
  from: at,
  to: runs.find(({ from }) => from >= at)?.from ?? Infinity,
});
const offBefore = ({ runs }: Facts, at: Instant): Stretch => ({
  from: runs.findLast(({ to }) => to <= at)?.to ?? -Infinity,
  to: at,
});

const changeAt = (facts: Facts, kind: ControlChange['kind'], at: Instant): ControlChange | undefined =>
  facts.unit.changes.find((change) => change.kind === kind && change.at === at);

function runs(facts: Facts): TrueEvent[] {
  return facts.runs.map((run) => {
    const stopped = changeAt(facts, 'stopped', run.to);
    return event({
      kind: 'compressor-run',
      cause: (stopped?.reason.code as EventCause | undefined) ?? null,
      start: run.from,
      end: run.to === Infinity ? null : run.to,
      leansOn: [
        ...leaning('output', run),
        ...leaning('output', offBefore(facts, run.from)),
        ...leaning('output', offAfter(facts, run.to)),
        ...causeLeaning(facts, stopped),
      ],
    });
  });
}

/** What shows why the output went off. */
function causeLeaning({ unit, calls, outages }: Facts, stopped: ControlChange | undefined): Leaning[] {
  if (!stopped) return [];
  const { at, reason } = stopped;
  const { trace } = unit;
  switch (reason.code) {
    case 'call-ended': {
      const next = calls.find(({ from }) => from >= at);
      return leaning('call', { from: at, to: next?.from ?? Infinity });
    }
    case 'power-lost':
      return leaning('volts', holding(outages, at));
    case 'undervoltage':
      return leaning(
        'volts',
        holding(
          stretches(trace.volts, (value) => value < reason.trip),
          at,
        ),
      );
    case 'high-pressure':
      return leaning(
        'high',
        holding(
          stretches(trace.high, (value) => value === 1),
          at,
        ),
      );
    case 'low-pressure':
      return leaning(
        'low',
        holding(
          stretches(trace.low, (value) => value === 1),
          at,
        ),
      );
    default:
      return [];
  }
}

/** The end of a wait that the control began at `at`: a start, a latch, or the end of call or power. */
function waitEnd(facts: Facts, at: Instant): Instant | null {
  const latched = facts.unit.changes.find((change) => change.kind === 'latched' && change.at > at)?.at;
  const call = holding(facts.calls, at)?.to ?? at;
  const next = [
    facts.runs.find(({ from }) => from > at)?.from,
    latched,
    call === Infinity ? undefined : call,
    facts.outages.find(({ from }) => from > at)?.from,
  ];
  const end = Math.min(...next.map((instant) => instant ?? Infinity));
  return end === Infinity ? null : end;
}

const isPressure = (change: ControlChange): boolean =>
  change.reason.code.startsWith('high-pressure') || change.reason.code.startsWith('low-pressure');

const isRefusal = ({ reason }: ControlChange): boolean => reason.code.endsWith('at-start');

/** No end of the call or of power lies between. */
function isSameCall({ calls }: Facts, a: Instant, b: Instant): boolean {
  const call = holding(calls, b);
  return !!call && a >= call.from;
}

const pressureOf = ({ reason: { code } }: ControlChange): EventCause =>
  code.startsWith('high') ? 'high-pressure' : 'low-pressure';

function softLockouts(facts: Facts): TrueEvent[] {
  const held = facts.unit.changes.filter((change) => change.kind === 'held' && isPressure(change));
  return held
    .filter((change, i) => {
      // a second protective stop in the same call opens none
      const before = held.slice(0, i).filter((one) => !isRefusal(one));
      return !before.some((one) => isSameCall(facts, one.at, change.at));
    })
    .map((change) =>
      event({
        kind: 'soft-lockout',
        cause: pressureOf(change),
        start: change.at,
        end: waitEnd(facts, change.at),
        // a refused start counts as a stop [from memory], but whether it opens a soft lockout the contract doesn't say
        needed:
          !isRefusal(change) && !held.some((one) => isRefusal(one) && isSameCall(facts, one.at, change.at)),
        leansOn: [
          ...lockoutLeaning(facts, change),
          ...leaning('output', { from: change.at, to: waitEnd(facts, change.at) ?? Infinity }),
        ],
      }),
    );
}

function lockoutLeaning(facts: Facts, change: ControlChange): Leaning[] {
  const stopped = changeAt(facts, 'stopped', change.at);
  return [
    ...leaning('output', offAfter(facts, change.at)),
    ...leaning(
      'output',
      facts.runs.findLast(({ to }) => to <= change.at),
    ),
    ...leaning('call', holding(facts.calls, change.at)),
    ...causeLeaning(facts, stopped),
  ];
}

function hardLockouts(facts: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const { changes, trace } = facts.unit;
  const ends: { at: Instant; cause: EventCause }[] = [];
  for (const latched of changes.filter(({ kind }) => kind === 'latched')) {
    const reset = changes.find((change) => change.kind === 'reset' && change.at >= latched.at);
    // power is gone at once, though within its hold-up the control doesn't know it yet
    const over = reset && { ...reset, at: holding(facts.outages, reset.at)?.from ?? reset.at };
    const alarm = holding(
      stretches(trace.alarm, (value) => value === 1),
      latched.at,
    );
    const leansOn = [...lockoutLeaning(facts, latched), ...leaning('alarm', alarm)];
    const cause = pressureOf(latched);
    // with an alarm that doesn't tell, and a start refused unseen (a stop from memory), nothing shows it
    const refused = changes.some((one) => isRefusal(one) && isSameCall(facts, one.at, latched.at));
    const tells = valueAt(trace.alarm, latched.at) === 1;
    const needed = tells || (!refused && outlastsRetry(facts, latched.at));
    found.push(
      event({ kind: 'hard-lockout', cause, start: latched.at, end: over?.at ?? null, leansOn, needed }),
    );
    if (!over) continue;
    const by = over.reason.code as 'call-broken' | 'power-broken';
    const broken = by === 'call-broken' ? callGap(facts, over.at) : holding(facts.outages, over.at);
    const leansOnBreak = [...leansOn, ...leaning(by === 'call-broken' ? 'call' : 'volts', broken)];
    found.push(
      event({
        kind: 'lockout-reset',
        cause: by,
        start: over.at,
        end: over.at,
        leansOn: leansOnBreak,
        needed,
      }),
    );
    const again = ends.some((one) => one.cause === cause && over.at - one.at <= 3_600 * SECOND);
    if (again)
      found.push(
        event({
          kind: 'repeated-reset',
          cause: null,
          start: over.at,
          end: over.at,
          leansOn: leansOnBreak,
          needed,
        }),
      );
    ends.push({ at: over.at, cause });
  }
  return found;
}

const callGap = ({ calls }: Facts, at: Instant): Stretch => ({
  from: at,
  to: calls.find(({ from }) => from >= at)?.from ?? Infinity,
});

function holds(facts: Facts): TrueEvent[] {
  return facts.unit.changes
    .filter(({ kind, reason }) => kind === 'held' && reason.code === 'undervoltage')
    .map((change) =>
      event({
        kind: 'undervoltage-hold',
        cause: null,
        start: change.at,
        end: waitEnd(facts, change.at),
        leansOn: lockoutLeaning(facts, change),
      }),
    );
}

/** the widest that a span between two contacts may be on change; verdicts this near a limit may fall either way, s */
const NEAR = 0.5;

/** Short cycles and settings seen, which are judged at each start. */
function starts(facts: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const mismatches: Mismatches = new Map();
  let tooMany = false;
  facts.runs.forEach((run, i) => {
    const before = facts.runs[i - 1];
    const protection = facts.protectionAt(run.from);
    const count = facts.runs.filter(
      ({ from }) => from <= run.from && run.from - from <= 3_600 * SECOND,
    ).length;
    const isTooMany = count > protection.startsPerHourLimit;
    const leansOn = facts.runs
      .slice(Math.max(0, i - 10), i + 1)
      .flatMap((one) => [...leaning('output', one), ...leaning('output', offBefore(facts, one.from))]);
    if (isTooMany)
      found.push(
        event({
          kind: 'short-cycle',
          cause: 'too-many-starts',
          start: run.from,
          end: run.from,
          discriminator: 'too-many-starts',
          needed: !tooMany,
          leansOn,
        }),
      );
    tooMany = isTooMany;
    if (before) found.push(...early(facts, before, run, protection));
    if (before) judgeSetting(facts, before, run, protection, mismatches, found);
  });
  return [...found, ...[...mismatches.values()].flat()];
}

/** by setting: what excludes the record since the bracket last held it */
type Mismatches = Map<string, TrueEvent[]>;

/** When power came back between a stop and the start after it. */
const powerBack = ({ outages }: Facts, stop: Instant, start: Instant): Instant | null =>
  outages.findLast(({ from, to }) => to <= start && to >= stop && from < start)?.to ?? null;

/** When the call last broke between a stop and the start after it, the output already off. */
function lastBreak({ calls }: Facts, stop: Instant, start: Instant): Instant | null {
  return calls.findLast(({ to }) => to >= stop && to <= start)?.to ?? null;
}

function early(facts: Facts, before: Stretch, run: Stretch, protection: Protection): TrueEvent[] {
  const { offDelay, powerUpBase, powerUpShare, offDelayFrom, tolerance } = protection;
  if (offDelay.known !== 'recorded') return [];
  const back = powerBack(facts, before.to, run.from);
  const isPowerUpKnown = powerUpBase.known === 'recorded' && powerUpShare.known === 'recorded';
  if (back !== null && !isPowerUpKnown) return [];
  const planned = back === null ? offDelay.value : powerUpBase.value + powerUpShare.value * offDelay.value;
  const broken = offDelayFrom.value === 'stop' ? null : lastBreak(facts, before.to, run.from);
  const from = back ?? Math.max(before.to, broken ?? before.to);
  const limit = seconds(planned * (1 - tolerance));
  const counted = run.from - from;
  if (counted >= limit + seconds(NEAR)) return [];
  const fitsStop =
    back === null && offDelayFrom.value !== 'call' && run.from - before.to >= limit - seconds(NEAR);
  return [
    event({
      kind: 'short-cycle',
      cause: 'delay-not-kept',
      start: run.from,
      end: run.from,
      needed: counted < limit - seconds(NEAR) && !fitsStop,
      fitsPowerUp: back === null && isLikePowerUp(before, run, protection),
      leansOn: [
        ...leaning('output', before),
        ...leaning('output', { from: before.to, to: run.from }),
        ...leaning('output', run),
        // an interval of twice the period must lie clear of the limit
        ...leaning('output', { from: counted, to: limit + Math.max(0, limit - counted) / 2 }),
      ],
    }),
  ];
}

/** With a poll's width and a hand-set dial to spare. */
function isLikePowerUp(before: Stretch, run: Stretch, protection: Protection): boolean {
  const { powerUpBase, powerUpShare, offDelay, tolerance, settingError } = protection;
  const powerUp = powerUpBase.value + powerUpShare.value * offDelay.value;
  return run.from - before.to >= seconds(powerUp * (1 - tolerance) - settingError - 2 * POLL);
}

/** the longest poll that such a verdict is asked of, s */
const POLL = 5;

/** What one waited-for start says of a recorded delay (handbook 4 rule 8), with exact times. */
function judgeSetting(
  facts: Facts,
  before: Stretch,
  run: Stretch,
  protection: Protection,
  open: Mismatches,
  found: TrueEvent[],
): void {
  const { offDelay, powerUpBase, powerUpShare, tolerance, settingError } = protection;
  if (offDelay.known !== 'recorded') return;
  const called = holding(facts.calls, run.from);
  if (!called || run.from - called.from < seconds(2 - NEAR)) return;
  const back = powerBack(facts, before.to, run.from);
  const setting = back === null ? 'offDelay' : 'powerUpDelay';
  if (back !== null && !(powerUpBase.known === 'recorded' && powerUpShare.known === 'recorded')) return;
  const cause = changeAt(facts, 'stopped', before.to)?.reason.code;
  const recorded = back === null ? offDelay.value : powerUpBase.value + powerUpShare.value * offDelay.value;
  const broken = back === null ? lastBreak(facts, before.to, run.from) : null;
  const gap = (run.from - (back ?? Math.max(before.to, broken ?? 0))) / SECOND;
  const waited = run.from - called.from > seconds(2 + NEAR);
  const isPlain =
    waited &&
    (back !== null || (cause !== 'undervoltage' && (broken === null || broken - before.to < SECOND)));
  const off = Math.abs(gap - recorded) - Math.max(recorded * tolerance, settingError);
  const standing = open.get(setting) ?? [];
  // counted from a break, or from the call's return: only a gap that both exclude may be told
  if (off <= -NEAR && isPlain) {
    found.push(...standing);
    open.delete(setting);
    return;
  }
  const leansOn = [
    ...leaning('output', { from: before.to, to: run.from }),
    ...leaning('output', run),
    ...leaning('output', { from: 0, to: seconds(off / 2) }),
    // that the call waited is seen by two polls of it
    ...leaning('call', { from: called.from, to: (called.from + run.from) / 2 }),
  ];
  const parts = { kind: 'setting-mismatch', cause: null, start: run.from, discriminator: setting } as const;
  const orFrom = standing.map(({ start }) => start);
  const needed = isPlain && off > NEAR && !standing.some((one) => one.needed);
  const fitsPowerUp = back === null && isLikePowerUp(before, run, protection);
  open.set(setting, [...standing, event({ ...parts, end: undefined, needed, leansOn, orFrom, fitsPowerUp })]);
}

/** Output against current, for more than 2 s (rule 9). */
function conductor({ unit: { trace } }: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const instants = [...new Set([...trace.output.at, ...trace.current.at])].sort((a, b) => a - b);
  instants.forEach((from, i) => {
    const to = instants[i + 1] ?? Infinity;
    const output = valueAt(trace.output, from);
    const current = valueAt(trace.current, from) > 0 ? 1 : 0;
    if (output === current || to - from <= seconds(2)) return;
    const stuck = current === 1;
    const cause = stuck ? null : trace.output.at.includes(from) ? 'at-start' : 'in-run';
    found.push(
      event({
        kind: stuck ? 'stuck-contactor' : 'failed-start',
        cause,
        start: from,
        end: to === Infinity ? null : to,
        needed: to - from > seconds(2 + NEAR),
        leansOn: [
          { signal: 'current', from, to: from + (to - from) / 2 },
          { signal: 'output', from, to: from + (to - from) / 2 },
        ],
      }),
    );
  });
  return found;
}

function alarmFaults(facts: Facts): TrueEvent[] {
  const { changes, trace } = facts.unit;
  const moves = trace.alarm.at.slice(1);
  const next = (at: Instant): Instant | null => moves.find((move) => move > at) ?? null;
  if (facts.alarmInverted) return invertedFaults(facts);
  const found: TrueEvent[] = [];
  const unneeded: Instant[] = [];
  let standing = -Infinity;
  for (const latched of changes.filter(({ kind }) => kind === 'latched')) {
    if (valueAt(trace.alarm, latched.at) === 1 || latched.at < standing) continue;
    const refused = changes.some((one) => isRefusal(one) && isSameCall(facts, one.at, latched.at));
    const needed = outlastsRetry(facts, latched.at) && !refused && !isRefusal(latched);
    const orFrom = unneeded.filter((at) => next(at) === next(latched.at));
    if (needed) standing = next(latched.at) ?? Infinity;
    else unneeded.push(latched.at);
    found.push(
      event({
        kind: 'alarm-circuit-fault',
        cause: 'silent',
        start: latched.at,
        end: next(latched.at),
        needed,
        orFrom,
        leansOn: lockoutLeaning(facts, latched),
      }),
    );
  }
  for (const stray of stretches(trace.alarm, (value) => value === 1)) {
    const latched = changes.some(
      ({ kind, at }) => kind === 'latched' && at <= stray.from && stray.from - at < SECOND,
    );
    const powerless = valueAt(trace.volts, stray.from) < 5;
    if (latched || powerless) continue;
    found.push(
      event({
        kind: 'alarm-circuit-fault',
        cause: 'unexplained',
        start: stray.from,
        end: stray.to === Infinity ? null : stray.to,
        leansOn: leaning('alarm', stray),
        needed:
          valueAt(trace.output, stray.from) === 1 && valueAt(trace.output, stray.from + 2 * SECOND) === 1,
      }),
    );
  }
  return found;
}

/** Without an alarm that tells, a latch shows only once the retry is overdue: beyond what can be set where none is written. */
function outlastsRetry(facts: Facts, at: Instant): boolean {
  const { offDelay, tolerance, settingError } = facts.protectionAt(at);
  const planned = offDelay.value * (1 + tolerance);
  const overdue = (offDelay.known === 'assumed' ? Math.max(300, planned) : planned) + settingError;
  const stop = facts.runs.findLast(({ to }) => to <= at)?.to ?? at;
  const over =
    facts.unit.changes.find((change) => change.kind === 'reset' && change.at >= at)?.at ?? Infinity;
  return Math.min(over, facts.to) - stop > seconds(overdue + 2);
}

/** An inverted contact is asserted while all is well: unexplained then, and whatever is said of its moves is its fault. */
function invertedFaults({ unit: { trace } }: Facts): TrueEvent[] {
  return trace.alarm.at.map((at, i) =>
    event({
      kind: 'alarm-circuit-fault',
      cause: null,
      start: at,
      end: trace.alarm.at[i + 1] ?? null,
      needed: false,
    }),
  );
}
