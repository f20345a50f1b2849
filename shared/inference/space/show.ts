import type { Instant } from '../../base/instant.ts';
import type { EventDraft } from '../event.ts';
import type { Output } from '../fold.ts';
import { isOwnKey, signalOfKey } from '../members/queue.ts';
import type { LastSeen, SpaceStanding } from '../standing.ts';
import { silentPoint } from '../subject-draft.ts';
import { lossEvent, neededOf } from './loss.ts';
import type { SpaceMoment } from './state.ts';
import { hotEvent } from './temperature.ts';

/** Open events whose existence and start nothing that comes in order can touch any more. */
export function firmNow(moment: SpaceMoment, frontier: Instant): EventDraft[] {
  const { hot, loss } = moment.state;
  const firm = loss !== null && loss.start.latest + moment.place.spread <= frontier;
  return [...(hot ? [hotEvent(moment, hot, null)] : []), ...(firm ? [lossEvent(moment, loss, null)] : [])];
}

/** Everything that isn't settled: the temperature, losses whose times may still widen or that last, silent points. */
export function showOpen(moment: SpaceMoment, cautious: Output): void {
  const { hot, closing, loss, points } = moment.state;
  const { subject } = moment.context;
  if (hot) cautious.event(hotEvent(moment, hot, null));
  for (const one of closing) cautious.event(lossEvent(moment, one, one.end));
  if (loss) cautious.event(lossEvent(moment, loss, null));
  for (const [key, { silentSince }] of Object.entries(points))
    if (silentSince !== null && isOwnKey(subject, key))
      moment.out.event(silentPoint(subject, key, silentSince, null));
}

export function standingOf({ state, place }: SpaceMoment): SpaceStanding {
  const installed = place.units.length;
  const unable = Object.keys(state.unable).length;
  const unknown = place.units.filter(({ id }) => !state.unable[id] && isUnknown(state.units[id])).length;
  const needed = neededOf(place);
  const able = installed - unable - unknown;
  return {
    cooling: state.loss?.level ?? (unknown > 0 && able < needed ? 'not-known' : 'all'),
    since: state.loss?.start ?? null,
    able,
    installed,
    needed,
    temperature: temperatureOf(state),
    temperatureLimit: place.space?.temperatureLimit ?? null,
  };
}

const isUnknown = (picture: SpaceMoment['state']['units'][string] | undefined): boolean =>
  !picture || (picture.run.on === null && picture.power.on === null);

/** The newest temperature, its value null while its point is silent. */
function temperatureOf({ points }: SpaceMoment['state']): LastSeen | null {
  const found = Object.entries(points).find(([key]) => signalOfKey(key) === 'space-temperature');
  const own = found?.[1];
  if (!own?.seen) return null;
  return own.track.raw === null ? { ...own.seen, value: null } : own.seen;
}
