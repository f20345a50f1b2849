import type { Forecast } from '../../cooling/forecast.ts';
import { fewest, loadOf } from '../../cooling/load.ts';
import { rangesOf } from '../../cooling/warm-up-fit.ts';
import type { WarmingStanding } from '../standing.ts';
import { forecastNow, unableUnits } from './forecast.ts';
import type { SpaceMoment } from './state.ts';
import { callMeansCooling } from './waits.ts';
import { fitNow, risePerHour, type Warmth } from './warmth.ts';

/** What the space's fold has learned of its warming and its load, for the page (handbook 6). */
export function warmingOf(moment: SpaceMoment): WarmingStanding {
  const { state, place, t } = moment;
  const { warmth } = state;
  const load = loadOf(
    warmth.quarters,
    place.units.map(({ id }) => id),
    warmth.counted ?? t,
  );
  // a heat pump's runs may be heating, a drying unit's aren't the space's need
  const told = place.units.every(callMeansCooling);
  return {
    loadSeconds: load.seconds,
    load: told ? load.sum : null,
    fewest: told ? fewest(load.sum, place.units.length) : null,
    periods: warmth.periods.length,
    fit: fitOf(warmth),
    without: withoutCooling(moment),
    insideAt: warmth.inside?.value == null ? null : warmth.inside.t,
    outdoors: warmth.outdoors,
    risePerHour: risePerHour(warmth),
    unable: unableUnits(moment),
    forecast: warmth.forecast && { soonest: warmth.forecast.soonest, latest: warmth.forecast.latest },
  };
}

function fitOf(warmth: Warmth): WarmingStanding['fit'] {
  const fit = fitNow(warmth);
  if (!fit) return null;
  const { slow, above } = rangesOf(fit);
  const { masses, periods, longest, spread } = fit;
  return {
    masses,
    periods,
    longestSeconds: longest,
    slowSeconds: slow,
    aboveKelvin: above,
    spreadKelvin: spread,
  };
}

/** Were nothing cooled from now on. */
function withoutCooling(moment: SpaceMoment): Forecast | null {
  const { warmth } = moment.state;
  const limit = moment.place.space?.temperatureLimit ?? null;
  const inside = warmth.inside?.value ?? null;
  if (limit === null || inside === null) return null;
  return forecastNow(moment, limit, inside, 0);
}
