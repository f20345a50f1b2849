import { SECOND } from '../../base/instant.ts';
import { elapsed, later, type Bounds, type Span } from '../../base/span.ts';
import type { Candidate, Certainty } from '../event.ts';
import { edgesIn, holds } from '../track.ts';
import { instantly, saw, type Moment } from './moment.ts';

/**
 * Short cycles (handbook 4 rule 7): was a start too early for the delay it should have waited, or one of too many?
 * `delay-not-kept` is relative to the record by definition and never arises from an assumed setting.
 */
export function judgeStart(moment: Moment, start: Span): void {
  judgeDelay(moment, start);
  countStarts(moment, start);
}

function judgeDelay(moment: Moment, start: Span): void {
  const { belief, wiring } = moment;
  const { offDelay, powerUpBase, powerUpShare } = wiring.protection;
  if (offDelay.known !== 'recorded' || !belief.lastStop) return;
  if (belief.powerBack && belief.powerBack.latest >= belief.lastStop.span.earliest) {
    if (powerUpBase.known !== 'recorded' || powerUpShare.known !== 'recorded') return;
    const planned = powerUpBase.value + powerUpShare.value * offDelay.value;
    return tooEarly(moment, start, 'power-up delay', planned, elapsed(belief.powerBack, start), null);
  }
  const fromStop = elapsed(belief.lastStop.span, start);
  const counted = countedFrom(moment);
  tooEarly(moment, start, 'off-cycle delay', offDelay.value, elapsed(counted, start), fromStop);
}

/** From when the delay counts: from the later of stop and call break, unless it is recorded to count from the stop. */
function countedFrom({ belief, wiring }: Moment): Span {
  const stop = belief.lastStop!.span;
  const { value } = wiring.protection.offDelayFrom;
  return value === 'stop' || !belief.callBreak ? stop : later(stop, belief.callBreak);
}

function tooEarly(
  moment: Moment,
  start: Span,
  delay: string,
  planned: number,
  counted: Bounds,
  fromStop: Bounds | null,
): void {
  const shortest = planned * (1 - moment.wiring.protection.tolerance);
  if (counted[0] >= shortest) return;
  const { certainty, candidates } = howSure(moment, start, shortest, counted, fromStop);
  const says = `started after ${counted[0].toFixed(1)}–${counted[1].toFixed(1)} s; the recorded ${delay} is ${planned} s`;
  moment.out.event(
    instantly(moment, 'short-cycle', start, {
      cause: 'delay-not-kept',
      causeCertainty: certainty,
      certainty,
      measures: { offSeconds: counted, delaySeconds: planned },
      candidates,
      evidence: [saw(moment, 'output', start.latest, 1, says)],
    }),
  );
}

function howSure(
  moment: Moment,
  start: Span,
  shortest: number,
  counted: Bounds,
  fromStop: Bounds | null,
): { certainty: Certainty; candidates: Candidate[] } {
  if (counted[1] >= shortest) return { certainty: 'possible', candidates: [] };
  const { offDelayFrom } = moment.wiring.protection;
  // where it isn't recorded from what the delay counts, only the reading that fits neither is certain
  if (fromStop && offDelayFrom.value !== 'call' && fromStop[1] >= shortest)
    return { certainty: 'possible', candidates: [] };
  if (!fromStop) return { certainty: 'certain', candidates: [] };
  return powerThroughout(moment, start, fromStop);
}

/** Only with control power seen present through the whole off time can no outage have set the other delay going. */
function powerThroughout(
  moment: Moment,
  start: Span,
  off: Bounds,
): { certainty: Certainty; candidates: Candidate[] } {
  const { belief, wiring } = moment;
  const wire = wiring.byRole.power;
  const from = belief.lastStop!.span.earliest;
  const present = !!wire && holds(belief.tracks.power, 1, from, start.latest);
  if (present && wire.onChange) return { certainty: 'certain', candidates: [] };
  const { powerUpBase, powerUpShare, offDelay, tolerance } = wiring.protection;
  const powerUp = powerUpBase.value + powerUpShare.value * offDelay.value;
  const outage = off[1] >= powerUp * (1 - tolerance);
  if (wire && edgesIn(belief.tracks.power, from, start.latest).length > 0)
    return { certainty: 'possible', candidates: [] };
  return {
    certainty: outage ? 'possible' : 'probable',
    candidates: [
      {
        cause: 'delay-not-kept',
        fit: 'needs-coincidence',
        because: outage
          ? `an outage too short to be seen would fit: the off time is long enough for the power-up delay of ${powerUp.toFixed(0)} s`
          : 'control power is not seen without a break',
      },
    ],
  };
}

const HOUR = 3_600 * SECOND;

function countStarts(moment: Moment, start: Span): void {
  const { belief, wiring } = moment;
  const limit = wiring.protection.startsPerHourLimit;
  belief.starts = [...belief.starts.filter((one) => start.earliest - one.earliest <= HOUR), start];
  const surely = belief.starts.filter((one) => start.latest - one.earliest <= HOUR).length > limit;
  const was = belief.tooMany;
  belief.tooMany = belief.starts.length > limit;
  if (!belief.tooMany || was) return;
  moment.out.event(
    instantly(moment, 'short-cycle', start, {
      discriminator: 'too-many-starts',
      cause: 'too-many-starts',
      certainty: surely ? 'certain' : 'possible',
      causeCertainty: surely ? 'certain' : 'possible',
      measures: { startsInHour: belief.starts.length, limit },
      evidence: [saw(moment, 'output', start.latest, 1, `${belief.starts.length} starts within 60 min`)],
    }),
  );
}
