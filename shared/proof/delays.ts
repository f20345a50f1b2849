import { seconds, type Instant } from '../base/instant.ts';
import { elapsed, type Bounds, type Span } from '../base/span.ts';
import type { Protection, Setting } from '../telemetry/site.ts';
import { assertedAs, type Move, type PointRecord } from './point-record.ts';
import type { Measured } from './session.ts';

/** Delays as they were seen: from the stop to the start for which a call had waited, from power’s return to the start (handbook 4.8). */
export interface SeenDelay {
  readonly seconds: Bounds;
  /** the start that ended it */
  readonly at: Span;
}

/** A call that came so much before the start was waiting for it. */
const WAITED = seconds(3);

const spanOf = ({ earliest, latest }: Move): Span => ({ earliest, latest });

const changes = (record: PointRecord, to: 0 | 1): Move[] =>
  record.moves.filter((move) => assertedAs(record.point, move.to) === to);

/** The off-cycle delay: each stop with the next start, where a call was there well before that start and power stayed. */
export function offDelaysSeen(
  call: PointRecord,
  output: PointRecord,
  voltage: PointRecord | null,
): SeenDelay[] {
  const starts = changes(output, 1);
  const gone = voltage ? changes(voltage, 0) : [];
  return changes(output, 0).flatMap((stop): SeenDelay[] => {
    const start = starts.find(({ earliest }) => earliest > stop.latest);
    if (!start || gone.some(({ latest }) => latest >= stop.earliest - seconds(5) && latest <= start.latest))
      return [];
    const called = changes(call, 1).findLast(({ latest }) => latest <= start.latest);
    const isWaiting =
      called !== undefined &&
      start.earliest - called.latest >= WAITED &&
      called.latest >= stop.earliest - seconds(2);
    const broken = changes(call, 0).some(
      ({ latest }) => called !== undefined && latest > called.latest && latest < start.earliest,
    );
    if (!isWaiting || broken) return [];
    return [{ seconds: elapsed(spanOf(stop), spanOf(start)), at: spanOf(start) }];
  });
}

/** The power-up delay: each return of control power with the start after it, where the call was there with the power. */
export function powerUpDelaysSeen(
  call: PointRecord | null,
  output: PointRecord,
  voltage: PointRecord,
): SeenDelay[] {
  return changes(voltage, 1).flatMap((back): SeenDelay[] => {
    const next = changes(voltage, 0).find(({ latest }) => latest > back.latest)?.latest ?? Infinity;
    const start = changes(output, 1).find(({ latest }) => latest > back.latest && latest < next);
    if (!start || !isCalledFrom(call, back.latest, start.earliest)) return [];
    return [{ seconds: elapsed(spanOf(back), spanOf(start)), at: spanOf(start) }];
  });
}

/** Without a call contact the call is taken to be there: that the start came shows it. */
function isCalledFrom(call: PointRecord | null, back: Instant, start: Instant): boolean {
  if (call === null) return true;
  const last = call.moves.findLast(({ latest }) => latest <= start - WAITED);
  const level = last?.to ?? call.rest;
  return (
    level !== null &&
    assertedAs(call.point, level) === 1 &&
    (last === undefined || last.latest <= back + seconds(10))
  );
}

export function measuredAs(
  what: Measured['what'],
  [low, high]: Bounds,
  setting: Setting<number>,
  { tolerance, settingError }: Protection,
): Measured {
  const room = Math.max(tolerance * setting.value, settingError);
  const isOff = high < setting.value - room || low > setting.value + room;
  return {
    what,
    seconds: [round(low), round(high)],
    setting: round(setting.value),
    known: setting.known,
    isOff,
  };
}

const round = (value: number): number => Math.round(value * 10) / 10;

/** Base and share together (handbook 2.1); recorded where all of it is. */
export function powerUpSetting({ powerUpBase, powerUpShare, offDelay }: Protection): Setting<number> {
  const isRecorded = [powerUpBase, powerUpShare, offDelay].every(({ known }) => known === 'recorded');
  return {
    value: powerUpBase.value + powerUpShare.value * offDelay.value,
    known: isRecorded ? 'recorded' : 'assumed',
  };
}
