import type { Span } from '../../base/span.ts';
import type { Certainty, EventCause } from '../event.ts';
import { sinceOf, valueBy, type Edge } from '../track.ts';
import { begunOf, cannotTell, turn, type Lasting } from './lasting.ts';
import { doubtful, draft, saw, type Moment } from './moment.ts';

/**
 * Control voltage out of range (handbook 4 rule 10): steady and running below 22 V or above 29 V. A 240 V tap on a 208 V
 * supply gives 20.8 V; a 208 V tap on 240 V gives 27.7 V and over 30 V lightly loaded. What the line did meanwhile is
 * the panel's to say; here the reading is the fact and the tap a hint.
 */
export type VoltageLevel = 0 | 1 | 2 | 3 | 4;

/** V, both ends included */
export const IN_RANGE: readonly [low: number, high: number] = [22, 29];

/** 0 below 5 V or in range, 1 below 22, 2 near a 208 V tap's 20.8, 3 above 29, 4 above 30 V */
export const levelOf = (volts: number): VoltageLevel =>
  volts < 5 ? 0 : volts < 20 ? 1 : volts <= 21.6 ? 2 : volts < 22 ? 1 : volts <= 29 ? 0 : volts <= 30 ? 3 : 4;

export function levelOrOutputChanged(moment: Moment, role: 'level' | 'output', edge: Edge): void {
  const { byRole, runsFrom } = moment.wiring;
  if (!byRole.level) return;
  const { tracks } = moment.belief;
  const heard: Span = { earliest: edge.earliest, latest: edge.latest };
  const level = valueBy(tracks.level, heard.latest);
  const output = valueBy(tracks.output, heard.latest);
  if (level === null || (output === null && runsFrom && level !== 0 && level !== 4))
    return cannotTell(moment, 'range', heard);
  const what = judged(level, output === 1);
  const since = sinceOf(tracks[role], edge);
  const next = what && { what, since, heard, ...causeOf(moment, what, level) };
  const ended = turn(moment, 'range', next);
  if (ended) moment.out.event(rangeEvent(moment, ended, doubtful(since, ended.doubtFrom)));
}

function judged(level: number | null, running: boolean): 'low' | 'high' | null {
  if (level === 4) return 'high';
  if (!running || level === null || level === 0) return null;
  return level === 3 ? 'high' : 'low';
}

/** The tap that would give this reading on this panel's supply. */
function causeOf(
  moment: Moment,
  what: 'low' | 'high',
  level: number | null,
): { cause: EventCause; causeCertainty: Certainty } {
  const { site } = moment.context;
  const nominal = site.panels.find(({ id }) => id === moment.wiring.unit.panel)?.nominalVoltage ?? null;
  const tap =
    (what === 'low' && level === 2 && nominal === 208) ||
    (what === 'high' && level === 4 && nominal !== null && nominal >= 230);
  return tap
    ? { cause: 'wrong-tap', causeCertainty: 'probable' }
    : { cause: what, causeCertainty: 'certain' };
}

export function rangeEvent(moment: Moment, found: Lasting, end: Span | null) {
  const tap = found.cause === 'wrong-tap';
  const low = found.what === 'low';
  const because = low
    ? 'a transformer tapped for 240 V gives 20.8 V on a 208 V supply'
    : 'a transformer tapped for 208 V gives 27.7 V on 240 V, and over 30 V lightly loaded';
  return draft(
    moment,
    {
      kind: 'control-voltage-out-of-range',
      cause: found.cause,
      start: found.since,
      end,
      certainty: 'certain',
      causeCertainty: found.causeCertainty,
      pending: [],
      measures: {},
      candidates: tap
        ? [
            { cause: 'wrong-tap', fit: 'fits', because },
            { cause: low ? 'low' : 'high', fit: 'fits', because: 'the supply itself may be out of range' },
          ]
        : [],
      evidence: [
        saw(
          moment,
          'level',
          found.since.latest,
          null,
          low ? 'control voltage was below 22 V' : 'control voltage was high',
        ),
      ],
    },
    begunOf(found),
  );
}
