import type { EventDraft } from '../event.ts';
import { signalOfKey } from '../members/queue.ts';
import type { LastSeen, SpaceStanding } from '../standing.ts';
import { lossEvent, neededOf } from './loss.ts';
import type { SpaceMoment } from './state.ts';

/** Losses that aren't settled: those whose times may still widen, and the one that lasts. */
export function openLosses(moment: SpaceMoment): EventDraft[] {
  const { closing, loss } = moment.state;
  const closed = closing.map((one) => lossEvent(moment, one, one.end));
  return loss ? [...closed, lossEvent(moment, loss, null)] : closed;
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
