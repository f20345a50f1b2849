import type { Eyes } from './eyes.ts';
import { most, notAtAll, type Knowable, type Known, type Verdict } from './knowable.ts';
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

/**
 * That cooling is wanted, and that this unit can't give it. A lockout lasts no longer than its call, and an output that is
 * on was called: these need no call to be seen.
 */
function lossOf(eyes: Eyes): Verdict {
  const { call, upstream, roomTemperature, space, power, current, run } = eyes;
  const isWarm = roomTemperature !== null && (space?.temperatureLimit ?? null) !== null;
  const isWanted = call !== null || upstream !== null || isWarm;
  const ways: readonly (readonly [known: Known, says: string])[] = [
    [power && isWanted ? 'certain' : power && run ? 'probable' : 'not-at-all', 'a power loss'],
    [latched(eyes).known, 'a hard lockout'],
    [run && current ? 'certain' : 'not-at-all', 'a failed start'],
  ];
  const told = ways.filter(([known]) => known !== 'not-at-all');
  if (told.length === 0)
    return notAtAll(
      isWanted ? 'nothing shows that this unit can’t run' : 'nothing shows that cooling is wanted',
    );
  return {
    known: most(...told.map(([known]) => known)),
    because: `told by ${listed(told.map(([, says]) => says))} of this unit`,
  };
}

export const listed = (words: readonly string[]): string =>
  words.length < 2 ? words.join('') : `${words.slice(0, -1).join(', ')} or ${words.at(-1)}`;
