import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import { exactly, later, elapsed, type Bounds, type Span } from '../../base/span.ts';
import type { Setting } from '../../telemetry/site.ts';
import { edgeTo, holds, valueBefore } from '../track.ts';
import type { Certainty } from '../event.ts';
import type { Begun } from './belief.ts';
import { draft, powerUpDelayOf, saw, type Moment } from './moment.ts';

/**
 * Settings seen (handbook 4 rule 8): each gap that ended in a restart while a call was waiting brackets the off-cycle
 * delay, each power return with a call waiting the power-up delay. Brackets are intersected while they meet; a gap that
 * doesn't meet the bracket begins a new one (a dial was turned, or it is no fixed delay). A bracket that excludes the
 * recorded setting is a `setting-mismatch`, by definition relative to the record and never from an assumed one.
 */
export type SeenSetting = 'offDelay' | 'powerUpDelay';

export interface Bracket {
  /** seconds [low, high] that contain the delay */
  readonly seconds: Bounds;
  readonly gaps: number;
}

export interface Mismatched extends Begun {
  readonly start: Span;
  readonly seen: Bounds;
  readonly recorded: number;
  readonly certainty: Certainty;
}

/** The intersection of two brackets; null if they don't meet. */
export function intersect(a: Bounds, b: Bounds): Bounds | null {
  const low = Math.max(a[0], b[0]);
  const high = Math.min(a[1], b[1]);
  return low <= high ? [low, high] : null;
}

/** How far a bracket may lie from the recorded setting and still agree: the larger of 5 % and the hand-setting error, s. */
export const allowance = (recorded: number, tolerance: number, settingError: number): number =>
  Math.max(recorded * tolerance, settingError);

/** A start that a delay let go, with the call waiting: what does its gap say of the setting? */
export function noteGap(moment: Moment, start: Span): void {
  const { belief } = moment;
  if (!callWaited(moment, start) || !belief.lastStop) return;
  const { span, cause } = belief.lastStop;
  if (belief.powerBack && belief.powerBack.latest >= span.earliest)
    return note(moment, 'powerUpDelay', start, elapsed(belief.powerBack, start));
  if (mayBePowerUp(moment, span, start)) return;
  const { offDelayFrom } = moment.wiring.protection;
  const breakAfter = belief.callBreak && belief.callBreak.earliest > span.latest + 1_000_000;
  if (breakAfter && offDelayFrom.value !== 'call') return;
  // a call back before the delay is over may have set it going once more (handbook 2.3, fourth timeline)
  const from = breakAfter
    ? { earliest: belief.callBreak!.earliest, latest: belief.call?.since?.latest ?? belief.callBreak!.latest }
    : belief.callBreak && belief.callBreak.latest >= span.earliest
      ? later(span, belief.callBreak)
      : span;
  const gap = elapsed(from, start);
  // what stopped it may have held it off beyond its delay: the delay is not longer than that
  const atMost = cause === 'undervoltage' || cause === 'unknown';
  note(moment, 'offDelay', start, atMost ? [0, gap[1]] : gap);
}

/** so long before the start, at least: seen on by then, where it is polled (handbook 4 rule 8) */
const WAITED = seconds(2);

/** Did the call come before the start, and stay? Only then was it the delay that was waited for. */
function callWaited({ belief, wiring }: Moment, start: Span): boolean {
  const wire = wiring.byRole.call;
  if (!wire || wire.point.sense === 'upstream') return false;
  return holds(belief.tracks.call, 1, start.earliest - WAITED, start.latest);
}

function note(moment: Moment, setting: SeenSetting, start: Span, gap: Bounds): void {
  const { belief } = moment;
  const was = belief.brackets[setting];
  const both = was && intersect(was.seconds, gap);
  belief.brackets[setting] = both ? { seconds: both, gaps: was.gaps + 1 } : { seconds: gap, gaps: 1 };
  judge(moment, setting, start, belief.brackets[setting]!.seconds);
}

function judge(moment: Moment, setting: SeenSetting, start: Span, seen: Bounds): void {
  const { belief, wiring } = moment;
  const recorded = recordedDelay(moment, setting);
  if (recorded === null) return;
  const { tolerance, settingError } = wiring.protection;
  const slack = allowance(recorded, tolerance, settingError);
  const excluded = seen[1] < recorded - slack || seen[0] > recorded + slack;
  if (!excluded) return endMismatch(moment, setting, start);
  if (belief.mismatched[setting]) return;
  const certainty = !isPowerSeen(moment, setting, start)
    ? 'probable'
    : seen[1] < recorded
      ? 'certain'
      : howLong(moment, start);
  belief.mismatched[setting] = {
    start: { ...start },
    seen,
    recorded,
    certainty,
    tentative: moment.tentative,
  };
}

/** Was control power seen through the gap without a break? Between two polls an outage can set the other delay going. */
function isPowerSeen({ belief, wiring }: Moment, setting: SeenSetting, start: Span): boolean {
  const from = setting === 'offDelay' ? belief.lastStop!.span.earliest : belief.powerBack!.latest + 1;
  return wiring.byRole.power?.onChange === true && holds(belief.tracks.power, 1, from, start.latest);
}

/** An outage too short to be seen would fit: the gap is as long as the power-up delay, or longer by what came before it. */
function mayBePowerUp(moment: Moment, stop: Span, start: Span): boolean {
  if (isPowerSeen(moment, 'offDelay', start)) return false;
  const { tolerance, settingError } = moment.wiring.protection;
  const powerUp = inSeconds(powerUpDelayOf(moment.wiring));
  return elapsed(stop, start)[1] >= powerUp * (1 - tolerance) - settingError;
}

/** A gap longer than the setting may have been something else that held it off, unless all else was seen to be well. */
function howLong({ belief, wiring }: Moment, start: Span): Certainty {
  const from = belief.lastStop!.span.latest;
  const { high, power, healthy } = belief.tracks;
  const closed = wiring.byRole.high?.onChange === true && valueBefore(high, start.earliest) === 0;
  const well =
    wiring.byRole.power?.onChange === true &&
    holds(healthy, 1, from, start.latest) &&
    edgeTo(power, 0, from, start.latest) === null;
  return closed && well ? 'certain' : 'probable';
}

/** The recorded length of a delay, seconds; null where any part of it is assumed. */
function recordedDelay({ wiring }: Moment, setting: SeenSetting): number | null {
  const { offDelay, powerUpBase, powerUpShare } = wiring.protection;
  const recorded = (...all: Setting<number>[]) => all.every(({ known }) => known === 'recorded');
  if (setting === 'offDelay') return recorded(offDelay) ? offDelay.value : null;
  if (!recorded(offDelay, powerUpBase, powerUpShare)) return null;
  return powerUpBase.value + powerUpShare.value * offDelay.value;
}

/** Other settings are recorded from `at` on: a mismatch with what was recorded of them before is over. */
export function recordChanged(moment: Moment, at: Instant): void {
  for (const setting of ['offDelay', 'powerUpDelay'] as const) {
    const mismatched = moment.belief.mismatched[setting];
    if (mismatched && mismatched.recorded !== recordedDelay(moment, setting))
      endMismatch(moment, setting, exactly(at));
  }
}

/** The bracket holds the recorded setting again, or the record was changed at `end`. */
function endMismatch(moment: Moment, setting: SeenSetting, end: Span): void {
  const { belief } = moment;
  const mismatched = belief.mismatched[setting];
  if (!mismatched) return;
  belief.mismatched[setting] = null;
  moment.out.event(mismatchedEvent(moment, setting, mismatched, end));
}

export function mismatchedEvent(moment: Moment, setting: SeenSetting, found: Mismatched, end: Span | null) {
  const name = setting === 'offDelay' ? 'off-cycle delay' : 'power-up delay';
  const [low, high] = found.seen.map((value) => value.toFixed(1));
  const says = `a call waited and the restart came after ${low}–${high} s; the recorded ${name} is ${found.recorded} s`;
  return draft(
    moment,
    {
      kind: 'setting-mismatch',
      cause: null,
      start: found.start,
      end,
      certainty: found.certainty,
      causeCertainty: null,
      pending: [],
      measures: { seenSeconds: found.seen, recordedSeconds: found.recorded },
      candidates: [],
      evidence: [saw(moment, 'output', found.start.latest, 1, says)],
      discriminator: setting,
    },
    found,
  );
}
