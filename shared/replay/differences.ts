import { seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../base/span.ts';
import type { ControlReason } from '../control/state.ts';
import type { EventDraft } from '../inference/event.ts';
import type { Edge } from '../inference/track.ts';
import type { CarriedChange, Doubt } from './carry.ts';
import type { Stretch, UnitCourse } from './replay-unit.ts';

/**
 * What would have been otherwise: runs that begin or end at another time beyond what the intervals leave open, runs and hard
 * lockouts that are there once only. Nothing is compared where the record carries nothing.
 */
export interface UnitDifference {
  readonly kind: 'start' | 'stop' | 'run' | 'hard-lockout';
  /** when it was seen; null: it wasn't, and the record shows that */
  readonly seen: Span | null;
  /** when it comes replayed; null: it doesn't */
  readonly replayed: Span | null;
  /** seconds from seen to replayed, [low, high]; negative: earlier */
  readonly shift: Bounds | null;
  /** why it comes replayed; null where it doesn't */
  readonly reason: ControlReason | null;
  readonly leansOn: readonly Doubt[];
}

interface Run {
  readonly start: Span | null;
  readonly stop: Span | null;
  readonly from: Instant;
  readonly to: Instant;
  readonly started: CarriedChange | null;
  readonly stopped: CarriedChange | null;
}

/** Less apart than this is the same [from memory]: a contactor, a relay and a gateway take their time. */
const LAG = seconds(0.5);

export function differencesOf(
  output: readonly Edge[],
  hard: readonly EventDraft[],
  course: UnitCourse,
  stretch: Stretch,
): UnitDifference[] {
  const seen = seenRuns(output, stretch.through);
  const replayed = replayedRuns(course, stretch.through);
  const found: UnitDifference[] = [];
  const met = new Set<Run>();
  let first = 0;
  for (const run of replayed) {
    while (first < seen.length && seen[first]!.to <= run.from) first++;
    const twin = best(seen, first, run);
    if (twin) met.add(twin);
    found.push(...(twin ? comparedRuns(twin, run) : onlyReplayed(run)));
  }
  for (const run of seen) if (!met.has(run) && isCarried(course, run)) found.push(...onlySeen(run));
  const all = [...found, ...hardLockouts(hard, course, stretch.through)];
  return all.filter((one) => isWithin(one, stretch)).sort((a, b) => placeOf(a) - placeOf(b));
}

const placeOf = ({ seen, replayed }: UnitDifference): Instant => (seen ?? replayed)!.latest;
const isWithin = (one: UnitDifference, { from, through }: Stretch): boolean =>
  placeOf(one) >= from && placeOf(one) <= through;

function seenRuns(output: readonly Edge[], through: Instant): Run[] {
  const runs: Run[] = [];
  let start: Edge | null = null;
  const close = (stop: Span | null, to: Instant) => {
    if (!start) return;
    const began = start.from === 0 ? { earliest: start.earliest, latest: start.latest } : null;
    runs.push({ start: began, stop, from: start.latest, to, started: null, stopped: null });
    start = null;
  };
  for (const edge of output) {
    if (edge.to === 1) start ??= edge;
    else close(edge.to === 0 ? { earliest: edge.earliest, latest: edge.latest } : null, edge.earliest);
  }
  close(null, through);
  return runs;
}

/** Runs as far as they are claimed: one that runs into what the record can't carry ends there without a stop. */
function replayedRuns({ changes, stages, beyond }: UnitCourse, through: Instant): Run[] {
  const runs: Run[] = [];
  let open: { readonly started: CarriedChange | null; readonly from: Instant } | null = null;
  const close = (stopped: CarriedChange | null, to: Instant) => {
    if (!open) return;
    const { started, from } = open;
    runs.push({ start: started?.at ?? null, stop: stopped?.at ?? null, from, to, started, stopped });
    open = null;
  };
  const runsFrom = (at: Instant) => stages.some((one) => one.from === at && one.phase === 'running');
  const marks = [
    ...changes.flatMap((change) => {
      if (change.kind !== 'started' && change.kind !== 'stopped') return [];
      return [{ at: change.at.latest, change, cut: false }];
    }),
    ...beyond.flatMap(({ from, to, why }) => [
      // the same run, of which a part wasn't seen
      ...(why === 'runs-unseen' && runsFrom(to) ? [] : [{ at: from, change: null, cut: true }]),
      ...(runsFrom(to) ? [{ at: to, change: null, cut: false }] : []),
    ]),
  ].sort((a, b) => a.at - b.at);
  for (const { at, change, cut } of marks) {
    if (cut) close(null, at);
    else if (change?.kind === 'stopped') close(change, change.at.earliest);
    else open ??= { started: change, from: at };
  }
  close(null, through);
  return runs;
}

/** The seen run that shares the most time with a replayed one. */
function best(seen: readonly Run[], first: number, run: Run): Run | null {
  let most: { readonly run: Run; readonly shared: number } | null = null;
  for (let i = first; i < seen.length && seen[i]!.from < run.to; i++) {
    const one = seen[i]!;
    const shared = Math.min(one.to, run.to) - Math.max(one.from, run.from);
    if (shared > 0 && (!most || shared > most.shared)) most = { run: one, shared };
  }
  return most?.run ?? null;
}

function comparedRuns(seen: Run, run: Run): UnitDifference[] {
  return [
    ...compared('start', seen.start, run.start, run.started),
    ...compared('stop', seen.stop, run.stop, run.stopped),
  ];
}

function compared(
  kind: 'start' | 'stop',
  seen: Span | null,
  replayed: Span | null,
  change: CarriedChange | null,
): UnitDifference[] {
  if (!seen || !replayed || !change) return [];
  const apart = Math.max(replayed.earliest - seen.latest, seen.earliest - replayed.latest);
  if (apart <= LAG) return [];
  return [
    { kind, seen, replayed, shift: elapsed(seen, replayed), reason: change.reason, leansOn: change.leansOn },
  ];
}

const onlyReplayed = ({ start, started }: Run): UnitDifference[] =>
  start && started
    ? [
        {
          kind: 'run',
          seen: null,
          replayed: start,
          shift: null,
          reason: started.reason,
          leansOn: started.leansOn,
        },
      ]
    : [];

const onlySeen = ({ start }: Run): UnitDifference[] =>
  start ? [{ kind: 'run', seen: start, replayed: null, shift: null, reason: null, leansOn: [] }] : [];

/** The record carries the replay through the whole of what was seen. */
const isCarried = (
  { beyond }: UnitCourse,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): boolean => !beyond.some((one) => one.from < to && one.to > from);

function hardLockouts(hard: readonly EventDraft[], course: UnitCourse, through: Instant): UnitDifference[] {
  const latched = course.changes.filter(({ kind }) => kind === 'latched');
  const ends = course.changes.filter(({ kind }) => kind === 'reset');
  const replayed = latched.map((change) => ({
    change,
    from: change.at.earliest,
    to: ends.find(({ at }) => at.latest >= change.at.latest)?.at.latest ?? through,
  }));
  const seen = hard.map((event) => ({
    event,
    from: event.start.earliest,
    to: event.end?.latest ?? through,
  }));
  const meets = (a: { from: Instant; to: Instant }, b: { from: Instant; to: Instant }) =>
    a.from <= b.to && b.from <= a.to;
  const none = { kind: 'hard-lockout' as const, shift: null };
  return [
    ...replayed
      .filter((one) => !seen.some((other) => meets(one, other)))
      .map(({ change }) => ({
        ...none,
        seen: null,
        replayed: change.at,
        reason: change.reason,
        leansOn: change.leansOn,
      })),
    ...seen
      .filter(
        (one) =>
          !replayed.some((other) => meets(one, other)) &&
          isCarried(course, { from: one.from - 1, to: one.from + 1 }),
      )
      .map(({ event }) => ({ ...none, seen: event.start, replayed: null, reason: null, leansOn: [] })),
  ];
}
