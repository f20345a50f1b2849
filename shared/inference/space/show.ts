import type { Output } from '../fold.ts';
import { isGatewaysSilence } from '../members/gateway-silence.ts';
import { isOwnKey, signalOfKey } from '../members/queue.ts';
import type { LastSeen, SpaceStanding } from '../standing.ts';
import { silentPoint } from '../subject-draft.ts';
import { forecastEvent } from './forecast.ts';
import { neededOf, outlookAt } from './level.ts';
import { openLosses } from './loss.ts';
import type { SpaceMoment, SpaceState } from './state.ts';
import { showRising } from './temperature-rising.ts';
import { hotEvent } from './temperature.ts';
import { warmingOf } from './warming-standing.ts';

/**
 * Everything that isn't settled: the temperature, which leans on its own samples alone, losses that last, silent points.
 */
export function showOpen(moment: SpaceMoment, cautious: Output): void {
  const { hot, points, gateways } = moment.state;
  const { subject } = moment.context;
  if (hot) moment.out.event(hotEvent(moment, hot, null));
  if (moment.state.warmth.forecast)
    moment.out.event(forecastEvent(moment, moment.state.warmth.forecast, null));
  showRising(moment);
  for (const loss of openLosses(moment)) cautious.event(loss);
  for (const [key, { silentSince }] of Object.entries(points))
    if (silentSince !== null && isOwnKey(subject, key))
      if (!isGatewaysSilence(gateways, moment.context, { key, since: silentSince, until: moment.t }))
        moment.out.event(silentPoint(subject, key, silentSince, null));
}

export function standingOf(moment: SpaceMoment): SpaceStanding {
  const { state, place } = moment;
  const installed = place.units.length;
  const { unable } = outlookAt(state, place, state.swept);
  const unknown = place.units.filter(({ id }) => !unable.includes(id) && isUnknown(state.units[id])).length;
  const needed = neededOf(place);
  const able = installed - unable.length - unknown;
  const level = state.losses.lost.must ? 'lost' : state.losses.reduced.must ? 'reduced' : null;
  const must = level && state.losses[level].must!;
  return {
    cooling: level ?? (unknown > 0 && able < needed ? 'not-known' : 'all'),
    since: must && { earliest: must.mayFrom, latest: must.from },
    able,
    installed,
    needed,
    temperature: temperatureOf(state),
    temperatureLimit: place.space?.temperatureLimit ?? null,
    warming: warmingOf(moment),
  };
}

const isUnknown = (picture: SpaceState['units'][string] | undefined): boolean =>
  !picture || (picture.run.on === null && picture.power.on === null);

/** The newest temperature, its value null while its point is silent. */
function temperatureOf({ points }: SpaceState): LastSeen | null {
  const found = Object.entries(points).find(([key]) => signalOfKey(key) === 'space-temperature');
  const own = found?.[1];
  if (!own?.seen) return null;
  return own.track.raw === null ? { ...own.seen, value: null } : own.seen;
}
