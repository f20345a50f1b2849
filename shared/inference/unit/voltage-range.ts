import type { Span } from '../../base/span.ts';
import type { EventCause } from '../event.ts';
import { valueBy, type Edge } from '../track.ts';
import { begunOf, turn, type Lasting } from './lasting.ts';
import { draft, saw, type Moment } from './moment.ts';

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

export function levelOrOutputChanged(moment: Moment, edge: Edge): void {
  if (!moment.wiring.byRole.level) return;
  const at: Span = { earliest: edge.earliest, latest: edge.latest };
  const level = valueBy(moment.belief.tracks.level, at.latest);
  const running = valueBy(moment.belief.tracks.output, at.latest) === 1;
  const what = judged(level, running);
  const ended = turn(moment, 'range', what, what && causeOf(moment, what, level), at);
  if (ended) moment.out.event(rangeEvent(moment, ended, at));
}

function judged(level: number | null, running: boolean): 'low' | 'high' | null {
  if (level === 4) return 'high';
  if (!running || level === null || level === 0) return null;
  return level === 3 ? 'high' : 'low';
}

/** The tap that would give this reading on this panel's supply. */
function causeOf(moment: Moment, what: 'low' | 'high', level: number | null): EventCause {
  const { site } = moment.context;
  const nominal = site.panels.find(({ id }) => id === moment.wiring.unit.panel)?.nominalVoltage ?? null;
  if (what === 'low' && level === 2 && nominal === 208) return 'wrong-tap';
  if (what === 'high' && level === 4 && nominal !== null && nominal >= 230) return 'wrong-tap';
  return what;
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
      causeCertainty: tap ? 'probable' : 'certain',
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
