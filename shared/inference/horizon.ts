import type { Instant } from '../base/instant.ts';
import { seconds } from '../base/instant.ts';
import { isGood } from '../telemetry/sample.ts';
import type { Point, Site } from '../telemetry/site.ts';
import type { FoldContext, Source } from './fold.ts';
import { watchedThrough, watchedUntil } from './watch.ts';

/**
 * Through when is each source known, and which have fallen silent (handbook 3, "Known through" and "Silence")?
 *
 *   polled      known through its last good sample, once its gateway has told of something later: another value for the
 *               same instant may come right behind; silent after 3 polling periods of watched time
 *   on-change   known through its gateway's latest life less its resolution; silent after 3 promised heartbeats of watched
 *               time, never where none are promised
 *   edges       known through what the context says of the member unit
 *
 * A silent source, one never seen, and one that TAIL_BOUND rows have overtaken are unknown: they hold nothing back. All
 * of it is a function of the rows taken so far and the watch marks, never of how the rows were cut into steps.
 */
export interface Horizon {
  /** newest good sample of each source (newest life, for a life source); BEGINNING: never */
  readonly last: Instant[];
  readonly life: Record<string, Instant>;
  /** known through at least this: as it was wired before its configuration last changed; BEGINNING: it never did */
  readonly floor: Instant[];
  /** unknown since, by silence or by being overtaken */
  readonly unknown: (Instant | null)[];
  /** rows taken so far, and how many had been taken when the source last became known further */
  rows: number;
  readonly rowsAtLast: number[];
  readonly rowsAtLife: Record<string, number>;
}

export const BEGINNING: Instant = -9_000_000_000_000_000;
export const NEVER: Instant = 9_000_000_000_000_000;

/** Tail samples beyond which the slowest source counts as unknown, so that one lost gateway can't hold everything. */
export const TAIL_BOUND = 10_000;

export const SILENT_PERIODS = 3;

export const beginHorizon = (sources: number): Horizon => ({
  last: Array.from({ length: sources }, () => BEGINNING),
  life: {},
  floor: Array.from({ length: sources }, () => BEGINNING),
  unknown: Array.from({ length: sources }, () => null),
  rows: 0,
  rowsAtLast: Array.from({ length: sources }, () => 0),
  rowsAtLife: {},
});

/** A row of `source` at `t` has come. */
export function noteRow(horizon: Horizon, source: Source, index: number, t: Instant, quality: number): void {
  horizon.rows++;
  if (source.kind === 'edges') return;
  if (isGood(quality)) {
    horizon.last[index] = t;
    horizon.rowsAtLast[index] = horizon.rows;
  }
  const gateway = source.kind === 'life' ? source.device : source.point?.gateway;
  if (gateway === undefined) return;
  horizon.life[gateway] = t;
  horizon.rowsAtLife[gateway] = horizon.rows;
}

export const isSeen = (horizon: Horizon, index: number): boolean => horizon.last[index]! > BEGINNING;

/**
 * The temperature outdoors holds no space back: nothing that is ever certain leans on it, and a sample of it that comes late
 * rewinds as any other.
 */
const holdsBack = ({ subject }: FoldContext, { signal }: Source): boolean =>
  subject.kind !== 'space' || signal !== 'outdoor-temperature';

/** Through when the source is known; null where it holds nothing back (unknown, never seen, not configured). */
export function knownThrough(horizon: Horizon, context: FoldContext, index: number): Instant | null {
  const source = context.sources[index]!;
  if (source.kind === 'edges') return context.members[source.device] ?? null;
  if (source.kind === 'life' || !holdsBack(context, source)) return null;
  if (!source.point || horizon.unknown[index] !== null || !isSeen(horizon, index)) return null;
  return Math.min(countedThrough(context, source.point), saidThrough(horizon, source.point, index));
}

/** Through when the word of a point's gateway counts; NEVER: nothing else has to be waited for. */
export const countedThrough = ({ counted }: FoldContext, { gateway }: Point): Instant =>
  counted ? (counted[gateway] ?? BEGINNING) : NEVER;

/** Through when nothing more is to come of a point that was seen, in order. */
function saidThrough(horizon: Horizon, point: Point, index: number): Instant {
  const told = toldThrough(horizon, point, index);
  const passed = (horizon.life[point.gateway] ?? BEGINNING) - 1;
  return Math.max(horizon.floor[index]!, point.reporting.mode === 'polled' ? Math.min(told, passed) : told);
}

/** Through when a point's own samples, or its gateway's life, tell of it. */
function toldThrough(horizon: Horizon, point: Point, index: number): Instant {
  if (point.reporting.mode === 'polled') return horizon.last[index]!;
  return (horizon.life[point.gateway] ?? BEGINNING) - Math.max(1, seconds(point.resolutionSeconds));
}

/**
 * Other settings hold from `from` on. A point that is wired to another gateway now, or reported in another way, was known
 * through then as it was before: what its new gateway told last may be older, and takes nothing back. One that wasn't
 * configured before counts from then on: what had come of it already holds nothing back.
 */
export function keepKnown(
  horizon: Horizon,
  context: FoldContext,
  was: readonly (Point | null)[],
  from: Instant,
): void {
  context.sources.forEach(({ point }, index) => {
    const before = was[index];
    if (!point || horizon.unknown[index] !== null || !isSeen(horizon, index)) return;
    const same = before?.gateway === point.gateway && before.reporting.mode === point.reporting.mode;
    if (!same) horizon.floor[index] = from - 1;
  });
}

/** The life of its gateway that makes a point known through `waiting`; null where only a sample of its own can. */
export function lifeToTell(
  horizon: Horizon,
  point: Point,
  index: number,
  waiting: Instant,
): { readonly gateway: string; readonly at: Instant } | null {
  const { gateway, reporting, resolutionSeconds } = point;
  if (reporting.mode === 'on-change')
    return { gateway, at: waiting + Math.max(1, seconds(resolutionSeconds)) };
  return toldThrough(horizon, point, index) < waiting ? null : { gateway, at: waiting + 1 };
}

/** The last that was told of a point; from then on it isn't known, where it falls silent. */
function toldBy(horizon: Horizon, { sources }: FoldContext, index: number): Instant | null {
  const { point } = sources[index]!;
  return point && Math.max(horizon.floor[index]!, toldThrough(horizon, point, index));
}

/** Everything at or before this is known of these points, whether they have fallen silent since or not. */
export const heardThrough = (horizon: Horizon, context: FoldContext, points: readonly Source[]): Instant =>
  points.reduce((least, source) => {
    const index = context.sources.indexOf(source);
    return source.point && isSeen(horizon, index)
      ? Math.min(least, countedThrough(context, source.point), saidThrough(horizon, source.point, index))
      : least;
  }, NEVER);

/** Everything at or before this is known for every source that holds anything back; at most `at`. */
export function frontierOf(horizon: Horizon, context: FoldContext, at: Instant): Instant {
  let frontier = at;
  for (let i = 0; i < context.sources.length; i++) {
    const known = knownThrough(horizon, context, i);
    if (known !== null && known < frontier) frontier = known;
  }
  return frontier;
}

/** How long a source may be silent: [since, duration], or null where silence says nothing. */
function patience(horizon: Horizon, context: FoldContext, index: number): readonly [Instant, number] | null {
  const duration = durationsOf(context)[index]!;
  if (duration === NEVER || !isSeen(horizon, index)) return null;
  return [heardAt(horizon, context.sources[index]!, index), duration];
}

/** When a source was last heard; as it was wired before, where that is later. */
function heardAt({ floor, last, life }: Horizon, { kind, point, device }: Source, index: number): Instant {
  const polled = point?.reporting.mode === 'polled';
  const heard = polled ? last[index]! : (life[kind === 'life' ? device : point!.gateway] ?? BEGINNING);
  return Math.max(floor[index]!, heard);
}

/**
 * The instant before which nothing can fall silent, where nothing has by `at`; null where something may have. Asked
 * often, so it makes no garbage.
 */
export function quietUntil(horizon: Horizon, context: FoldContext, at: Instant): Instant | null {
  const durations = durationsOf(context);
  let next = NEVER;
  for (let i = 0; i < durations.length; i++) {
    const duration = durations[i]!;
    if (duration === NEVER || horizon.unknown[i] !== null || !isSeen(horizon, i)) continue;
    const since = heardAt(horizon, context.sources[i]!, i);
    if (since + duration < at) return null;
    if (since + duration < next) next = since + duration;
  }
  return next;
}

/** As worked out for the version of the site that was in force. */
const durationsIn = new WeakMap<FoldContext, { readonly site: Site; readonly durations: Float64Array }>();

/** How long each source may be silent, µs; NEVER where silence says nothing. */
function durationsOf(context: FoldContext): Float64Array {
  const found = durationsIn.get(context);
  if (found?.site === context.site) return found.durations;
  const durations = Float64Array.from(context.sources, ({ kind, point, device }) => {
    if (kind === 'edges' || (kind === 'point' && !point)) return NEVER;
    if (point?.reporting.mode === 'polled') return seconds(SILENT_PERIODS * point.reporting.seconds);
    const id = kind === 'life' ? device : point!.gateway;
    const period = context.site.gateways.find((gateway) => gateway.id === id)?.heartbeatSeconds ?? null;
    return period === null ? NEVER : seconds(SILENT_PERIODS * period);
  });
  durationsIn.set(context, { site: context.site, durations });
  return durations;
}

export interface Silences {
  /** sources that are unknown from the instant on */
  readonly fallen: readonly { readonly index: number; readonly since: Instant }[];
  /** nothing more can fall silent before this */
  readonly next: Instant;
  /**
   * Whether a source was silent or only unwatched can't be told yet, because the watch marks don't reach so far: nothing
   * after this may be decided. NEVER where there is no such doubt.
   */
  readonly doubt: Instant;
}

/** Which sources have fallen silent by `at`. Changes nothing. */
export function silencesBy(horizon: Horizon, context: FoldContext, at: Instant): Silences {
  const fallen: { index: number; since: Instant }[] = [];
  let next = NEVER;
  let doubt = NEVER;
  const watched = watchedThrough(context.watch);
  for (let i = 0; i < context.sources.length; i++) {
    if (horizon.unknown[i] !== null || !holdsBack(context, context.sources[i]!)) continue;
    const allowed = patience(horizon, context, i);
    if (!allowed) continue;
    const [since, duration] = allowed;
    const known = knownThrough(horizon, context, i) ?? since;
    const limit = since + duration < at ? watchedUntil(context.watch, since, duration) : since + duration;
    if (limit !== null && limit < at) fallen.push({ index: i, since: toldBy(horizon, context, i) ?? since });
    else if (limit !== null) next = Math.min(next, limit);
    else if (watched !== null && watched < at) {
      doubt = Math.min(doubt, known);
      next = Math.min(next, watched + 1);
    }
  }
  return { fallen, next, doubt };
}

/** Which sources TAIL_BOUND rows have overtaken, and the count of rows before which no other can be. */
export function overtaken(
  horizon: Horizon,
  context: FoldContext,
): { readonly found: readonly { readonly index: number; readonly since: Instant }[]; readonly next: number } {
  const found: { index: number; since: Instant }[] = [];
  let next = horizon.rows + TAIL_BOUND;
  for (let i = 0; i < context.sources.length; i++) {
    const { kind, point } = context.sources[i]!;
    const known = kind === 'point' ? knownThrough(horizon, context, i) : null;
    if (known === null) continue;
    const polled = point!.reporting.mode === 'polled';
    const rowsAt = polled ? horizon.rowsAtLast[i]! : (horizon.rowsAtLife[point!.gateway] ?? 0);
    if (horizon.rows - rowsAt > TAIL_BOUND) found.push({ index: i, since: known });
    else next = Math.min(next, rowsAt + TAIL_BOUND);
  }
  return { found, next };
}
