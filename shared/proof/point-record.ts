import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import { clockShifts, correctionAt } from '../telemetry/clock-shifts.ts';
import { isGood, type Sample } from '../telemetry/sample.ts';
import { signalRow } from '../telemetry/signals.ts';
import { siteAt, type Point, type Site, type SiteHistory } from '../telemetry/site.ts';
import type { ProofInput } from './session.ts';

/** What the record shows of one point within a session: its moves, when it was heard, and how it reports. */
export interface PointRecord {
  readonly key: string;
  readonly point: Point;
  /** what came before counts no more: it was wired otherwise, or was mended then */
  readonly since: Instant;
  /** values as configured, good ones, in order of corrected time; those before `since` left out */
  readonly values: readonly Value[];
  /** of a contact, of a voltage or a current: where it changed between away (0) and there (1); a contact’s are closed (1) or open (0) */
  readonly moves: readonly Move[];
  /** the state before its first move; null: not heard */
  readonly rest: 0 | 1 | null;
  readonly knownThrough: Instant | null;
  readonly longestBounceSeconds: number;
}

export interface Value {
  readonly t: Instant;
  readonly value: number;
}

export interface Move {
  /** after that it was in its old state for the last time … */
  readonly earliest: Instant;
  /** … and then in its new one */
  readonly latest: Instant;
  readonly to: 0 | 1;
}

/** Below this control power is away (handbook 4.10); a coil and a motor are told from nothing by as rough a bound. */
const AWAY_BELOW: Readonly<Record<string, number>> = {
  'control-voltage': 5,
  'contactor-voltage': 5,
  'compressor-current': 1,
};
/** A clock may be off by so much and still be found by the marks. */
export const REACH = seconds(900);
/** Changes nearer than this are one move that bounced. [practice, no source] */
const BOUNCE = seconds(1);

export const pointsOf = (site: Site): Point[] => [
  ...site.points,
  ...[...site.units, ...site.panels, ...site.spaces].flatMap((device) =>
    device.points.filter((point) => point.device === device.id),
  ),
];

/**
 * `aheadOf`: by how much a gateway’s clock is ahead of the people’s, µs: when the session began, and when something was mended,
 * is told on its clock. Null: not known, and any may be within reach.
 */
export function pointRecords(
  input: ProofInput,
  aheadOf: ((gateway: string) => number) | null,
): PointRecord[] {
  const { history, session } = input;
  const site = siteAt(history, session.to);
  if (site === null) return [];
  return pointsOf(site).map((point) => recordOf(point, input, aheadOf ? aheadOf(point.gateway) : -REACH));
}

function recordOf(point: Point, input: ProofInput, ahead: number): PointRecord {
  const { history, session, samples, lives } = input;
  const key = `${point.device}/${point.signal}`;
  const shifts = clockShifts(history, key);
  const since = wiredSince(input, point) + ahead;
  const corrected = [...(samples.get(key) ?? [])]
    .map((sample) => ({ ...sample, t: sample.t + correctionAt(shifts, sample.t) }))
    .sort((a, b) => a.t - b.t)
    .filter((sample, i, all) => isGood(sample.quality) && all[i + 1]?.t !== sample.t);
  const within = inSession(corrected, since, session.to + REACH);
  const values = within.map(({ t, value }) => ({ t, value: value * point.scale + point.offset }));
  const levels = values.map(({ t, value }) => ({ t, level: levelOf(point, value) }));
  const life = lives.get(point.gateway);
  const livedTo =
    life === undefined ? null : life + correctionAt(clockShifts(history, `${point.gateway}/life`), life);
  const last = corrected.at(-1)?.t ?? null;
  return {
    key,
    point,
    since,
    values,
    ...movesOf(levels, point),
    knownThrough: point.reporting.mode === 'polled' ? last : livedTo,
  };
}

/** The last before `since` is the state that it begins with; what came before that is left out. */
function inSession(samples: readonly Sample[], since: Instant, to: Instant): Sample[] {
  const first = samples.findLastIndex(({ t }) => t <= since);
  return samples
    .filter(({ t }, i) => i >= first && t <= to)
    .map((one) => (one.t < since ? { ...one, t: since } : one));
}

const levelOf = ({ signal }: Point, value: number): 0 | 1 => (value >= (AWAY_BELOW[signal] ?? 0.5) ? 1 : 0);

const hasMoves = ({ signal }: Point): boolean => signalRow(signal).kind === 'contact' || signal in AWAY_BELOW;

function movesOf(
  levels: readonly { readonly t: Instant; readonly level: 0 | 1 }[],
  point: Point,
): Pick<PointRecord, 'moves' | 'rest' | 'longestBounceSeconds'> {
  const moves: Move[] = [];
  const rest = levels[0]?.level ?? null;
  let longest = 0;
  if (!hasMoves(point)) return { moves, rest, longestBounceSeconds: 0 };
  for (let i = 1; i < levels.length; i++) {
    const [before, here] = [levels[i - 1]!, levels[i]!];
    if (before.level === here.level) continue;
    const end = endOfBurst(levels, i);
    longest = Math.max(longest, inSeconds(levels[end]!.t - here.t));
    const to = levels[end]!.level;
    const earliest = point.reporting.mode === 'polled' ? before.t : here.t - seconds(point.resolutionSeconds);
    if (to !== before.level) moves.push({ earliest, latest: here.t, to });
    i = end;
  }
  return { moves, rest, longestBounceSeconds: longest };
}

/** The last change of those that follow each other too fast to be told apart. */
function endOfBurst(levels: readonly { readonly t: Instant; readonly level: 0 | 1 }[], from: number): number {
  let end = from;
  for (let i = from + 1; i < levels.length && levels[i]!.t - levels[end]!.t < BOUNCE; i++)
    if (levels[i]!.level !== levels[i - 1]!.level) end = i;
  return end;
}

/** When the point came to be wired as it is: in the session, or at its beginning. */
function wiredSince({ history, session, marks }: ProofInput, point: Point): Instant {
  const key = `${point.device}/${point.signal}`;
  const mended = marks.filter(({ kind, on, at }) => kind === 'mended' && on === key && at <= session.to);
  return Math.max(session.from, ...mended.map(({ at }) => at), rewiredAt(history, point, session.to));
}

function rewiredAt(history: SiteHistory, point: Point, to: Instant): Instant {
  let since = -Infinity;
  let before: string | null = null;
  for (const version of history) {
    if (version.from > to) break;
    const held = pointsOf(version.site).find(
      ({ device, signal }) => device === point.device && signal === point.signal,
    );
    const wiring = held ? JSON.stringify([held.gateway, held.source, held.sparkplug, held.input]) : null;
    if (before !== null && wiring !== before) since = version.from;
    before = wiring;
  }
  return since;
}

/** 1 asserted, 0 not: what a closed or open contact means. */
export const assertedAs = (point: Point, closed: 0 | 1): 0 | 1 =>
  signalRow(point.signal).kind !== 'contact' || point.contact === 'normally-open'
    ? closed
    : closed === 1
      ? 0
      : 1;

/** The state at an instant; null: not heard yet. */
export function levelAt({ moves, rest }: PointRecord, at: Instant): 0 | 1 | null {
  return moves.findLast(({ latest }) => latest <= at)?.to ?? rest;
}
