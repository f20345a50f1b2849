import type { Eyes } from './eyes.ts';
import { least, most, notAtAll, type Knowable, type Known, type Verdict } from './knowable.ts';
import { latched } from './of-stops.ts';

/** What can be known of the cooling of this unit's space through this unit (handbook 6). */
export function ofSpace(eyes: Eyes): Knowable[] {
  const loss = lossOf(eyes);
  const { roomTemperature, space } = eyes;
  const limit = space?.temperatureLimit ?? null;
  const measured: Verdict = !roomTemperature
    ? notAtAll('no room temperature is measured')
    : limit === null
      ? notAtAll('no temperature limit is recorded for its space')
      : { known: 'certain', because: 'the room temperature is measured against its limit' };
  const forecast: Verdict =
    measured.known === 'certain'
      ? { known: 'probable', because: 'the room’s own warm-ups tell how fast it warms' }
      : measured;
  return [
    row('loss-of-cooling', 'reduced', loss),
    row('loss-of-cooling', 'lost', loss),
    row('high-temperature', 'measured', measured),
    row('high-temperature', 'forecast', forecast),
  ];
}

const row = (kind: Knowable['kind'], cause: Knowable['cause'], { known, because }: Verdict): Knowable => ({
  kind,
  cause,
  about: 'space',
  known,
  causeKnown: known,
  because,
});

/** That cooling is wanted, and that this unit can't give it. */
function lossOf(eyes: Eyes): Verdict {
  const { call, upstream, roomTemperature, space, power, current, run } = eyes;
  const isWarm = roomTemperature !== null && (space?.temperatureLimit ?? null) !== null;
  const wanted: Known = call || upstream || isWarm ? 'certain' : 'not-at-all';
  if (wanted === 'not-at-all') return notAtAll('neither a call nor a room temperature with a limit is seen');
  const lockout = latched(eyes).known;
  const failed: Known = run && current ? 'certain' : 'not-at-all';
  const unable = most(power ? 'certain' : 'not-at-all', lockout, failed);
  const reasons = [
    power ? 'a power loss' : '',
    lockout === 'not-at-all' ? '' : 'a hard lockout',
    failed === 'certain' ? 'a failed start' : '',
  ].filter(Boolean);
  if (reasons.length === 0) return notAtAll('nothing shows that this unit can’t run');
  return {
    known: least(wanted, unable),
    because: `told by ${listed(reasons)} of this unit while cooling is wanted`,
  };
}

const listed = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} or ${words.at(-1)}`;
