import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { EventCause } from '../../shared/inference/event.ts';
import { stretches, valueAt, type Stretch } from './trace.ts';
import { event, holding, leaning, type Leaning, type TrueEvent } from './true-event.ts';
import {
  causeLeaning,
  changeAt,
  isPressure,
  isRefusal,
  isSameCall,
  lockoutLeaning,
  offAfter,
  offBefore,
  outlastsRetry,
  pressureOf,
  type Facts,
} from './unit-facts.ts';

/** The runs that truly were, and the lockouts, resets and holds (contract 4, handbook 2.2). */
export const stopsOf = (facts: Facts): TrueEvent[] => [
  ...runs(facts),
  ...softLockouts(facts),
  ...hardLockouts(facts),
  ...holds(facts),
];

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

function hardLockouts(facts: Facts): TrueEvent[] {
  const found: TrueEvent[] = [];
  const { changes, trace } = facts.unit;
  const ends: { at: Instant; cause: EventCause; leansOn: readonly Leaning[] }[] = [];
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
    const again = ends.findLast((one) => one.cause === cause && over.at - one.at <= 3_600 * SECOND);
    if (again)
      found.push(
        event({
          kind: 'repeated-reset',
          cause: null,
          start: over.at,
          end: over.at,
          // that both had the same cause is seen only where each was seen
          leansOn: [...again.leansOn, ...leansOnBreak],
          needed,
        }),
      );
    ends.push({ at: over.at, cause, leansOn: leansOnBreak });
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
