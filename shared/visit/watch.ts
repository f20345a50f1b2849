import { REPAIR_WATCHED_SECONDS, sameCause } from '../alarms/repair.ts';
import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../base/span.ts';
import type { EventCause, EventDraft, EventKind } from '../inference/event.ts';

/**
 * Watching a repair (handbook 8, "After the repair"), from the record alone:
 *
 *   waiting ──(it starts)──▶ running ──(longer than the failed run + bypass, at least 15 min)──▶ holding
 *   holding ──(24 h and 10 calls since it was closed, one within 3 °C of the fault's outdoors)──▶ proven
 *   any ──(a protective stop for another reason)──▶ stopped, and it begins again with the next run
 *   any, once closed ──(the same cause again)──▶ failed
 *
 * Holding doesn't prove that the unit is safe. What happens before it is closed is work and fails nothing.
 */
export interface WatchSettings {
  readonly holdingLeastSeconds: number;
  readonly provenSeconds: number;
  readonly provenCalls: number;
  readonly provenWithinKelvin: number;
  /** it isn't watched for longer, proven or not [from memory] */
  readonly longestSeconds: number;
}

/** Handbook 8 names the figures as settings. */
export const WATCH_SETTINGS: WatchSettings = {
  holdingLeastSeconds: 15 * 60,
  provenSeconds: 24 * 3600,
  provenCalls: 10,
  provenWithinKelvin: 3,
  longestSeconds: REPAIR_WATCHED_SECONDS,
};

export interface Fault {
  readonly kind: EventKind;
  readonly cause: EventCause | null;
  /** since when it isn't so any more; null: it still stands */
  readonly end: Instant | null;
  /** how long the unit ran before it stopped, [least, most]; null: not known */
  readonly failedRunSeconds: Bounds | null;
  readonly bypassSeconds: number;
  /** °C outdoors when it stopped; null: not measured */
  readonly outdoors: number | null;
}

export interface Watched {
  readonly fault: Fault;
  /** when a person closed it, or it closed by itself; null: not yet */
  readonly closedAt: Instant | null;
  /** of its unit, from the fault's end on, in any order: runs, lockouts, holds, losses, failed starts */
  readonly events: readonly EventDraft[];
  readonly outdoorsAt: (at: Instant) => number | null;
  /** through when the unit is known; null: not known now */
  readonly through: Instant | null;
}

export type Watch =
  | { readonly kind: 'standing' }
  | { readonly kind: 'not-known' }
  | { readonly kind: 'waiting'; readonly needSeconds: number; readonly lastRan: Bounds | null }
  | {
      readonly kind: 'running';
      readonly since: Span;
      readonly needSeconds: number;
      /** when to look again */
      readonly lookAt: Instant;
    }
  | {
      readonly kind: 'stopped';
      readonly at: Span;
      readonly by: EventKind;
      readonly cause: EventCause | null;
      readonly event: string;
    }
  | {
      readonly kind: 'holding';
      readonly ranSeconds: number;
      /** null: it hasn't been closed, so that its 24 h haven't begun */
      readonly until: Instant | null;
      readonly missing: Missing;
      /** the longest that it is watched is over */
      readonly isOver: boolean;
    }
  | { readonly kind: 'proven'; readonly at: Instant; readonly calls: number }
  | { readonly kind: 'failed'; readonly at: Span; readonly event: string; readonly isSure: boolean };

/** What is still to be seen before it counts as proven. */
export interface Missing {
  readonly seconds: number;
  readonly calls: number;
  /** a call near the outdoor temperature of the fault; `not-measured`: that can't be told */
  readonly weather: 'seen' | 'not-seen' | 'not-measured';
}

export function watchRepair(watched: Watched, settings: WatchSettings = WATCH_SETTINGS): Watch {
  const { fault, closedAt, through } = watched;
  if (fault.end === null) return { kind: 'standing' };
  const failed = closedAt === null ? null : firstAgain(watched, closedAt, settings);
  if (failed) return failed;
  if (through === null) return { kind: 'not-known' };
  const stop = newestStop(watched);
  const from = Math.max(fault.end, stop?.start.latest ?? -Infinity);
  const runs = runsAfter(watched, from);
  const needSeconds = Math.max(
    settings.holdingLeastSeconds,
    (fault.failedRunSeconds?.[1] ?? 0) + fault.bypassSeconds,
  );
  const longest = runs.reduce((most, run) => Math.max(most, leastSeconds(run, through)), 0);
  if (longest > needSeconds) return held(watched, { longest, closedAt, through }, settings);
  const running = runs.find(({ end }) => end === null);
  if (running)
    return {
      kind: 'running',
      since: running.start,
      needSeconds,
      lookAt: running.start.latest + seconds(needSeconds),
    };
  const last = runs.at(-1);
  if (!last && stop)
    return { kind: 'stopped', at: stop.start, by: stop.kind, cause: stop.cause, event: stop.id };
  return { kind: 'waiting', needSeconds, lastRan: last ? elapsed(last.start, last.end!) : null };
}

function held(
  watched: Watched,
  { longest, closedAt, through }: { longest: number; closedAt: Instant | null; through: Instant },
  settings: WatchSettings,
): Watch {
  const missing = missingOf(watched, closedAt, through, settings);
  const isProven = missing.seconds === 0 && missing.calls === 0 && missing.weather === 'seen';
  if (isProven && closedAt !== null)
    return { kind: 'proven', at: through, calls: callsAfter(watched, closedAt).length };
  return {
    kind: 'holding',
    ranSeconds: longest,
    until: closedAt === null ? null : closedAt + seconds(settings.provenSeconds),
    missing,
    isOver: closedAt !== null && through - closedAt > seconds(settings.longestSeconds),
  };
}

function missingOf(
  watched: Watched,
  closedAt: Instant | null,
  through: Instant,
  settings: WatchSettings,
): Missing {
  const { fault, outdoorsAt } = watched;
  const calls = closedAt === null ? [] : callsAfter(watched, closedAt);
  const passed = closedAt === null ? 0 : inSeconds(through - closedAt);
  const { outdoors } = fault;
  const near = calls.some(({ end }) => {
    const then = outdoorsAt(end!.latest);
    return outdoors !== null && then !== null && Math.abs(then - outdoors) <= settings.provenWithinKelvin;
  });
  return {
    seconds: Math.max(0, settings.provenSeconds - passed),
    calls: Math.max(0, settings.provenCalls - calls.length),
    weather: outdoors === null ? 'not-measured' : near ? 'seen' : 'not-seen',
  };
}

const runsAfter = ({ events }: Watched, from: Instant): EventDraft[] =>
  events
    .filter(({ kind, start }) => kind === 'compressor-run' && start.latest >= from)
    .toSorted((a, b) => a.start.latest - b.start.latest);

/** A call that was served counts by its run: one that neither protection nor the power cut short. */
const callsAfter = (watched: Watched, from: Instant): EventDraft[] =>
  runsAfter(watched, from).filter(
    ({ end, cause }) => end !== null && (cause === 'call-ended' || cause === 'unknown'),
  );

/** For at least so long, whatever the uncertain times. */
const leastSeconds = ({ start, end }: EventDraft, through: Instant): number =>
  end === null ? Math.max(0, inSeconds(through - start.latest)) : elapsed(start, end)[0];

const STOPS: ReadonlySet<EventKind> = new Set<EventKind>([
  'soft-lockout',
  'hard-lockout',
  'undervoltage-hold',
  'failed-start',
  'stuck-contactor',
]);

/** The newest protective stop since the fault was over. */
const newestStop = ({ events, fault }: Watched): EventDraft | null =>
  events
    .filter(({ kind, start }) => STOPS.has(kind) && start.latest > fault.end!)
    .toSorted((a, b) => a.start.latest - b.start.latest)
    .at(-1) ?? null;

function firstAgain({ events, fault }: Watched, closedAt: Instant, settings: WatchSettings): Watch | null {
  const until = closedAt + seconds(settings.longestSeconds);
  const again = events
    .filter(({ start }) => start.latest > closedAt && start.latest <= until)
    .toSorted((a, b) => a.start.latest - b.start.latest)
    .find((event) => sameCause(fault, event) !== null);
  return again
    ? { kind: 'failed', at: again.start, event: again.id, isSure: sameCause(fault, again) === 'same' }
    : null;
}
