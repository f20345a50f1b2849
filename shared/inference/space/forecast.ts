import { inSeconds, seconds, type Instant } from '../../base/instant.ts';
import { exactly, type Span } from '../../base/span.ts';
import { forecast, type Forecast, type Rest } from '../../cooling/forecast.ts';
import { carries, loadOf, type Load } from '../../cooling/load.ts';
import type { Certainty, EventDraft, Evidence } from '../event.ts';
import { draftAbout } from '../subject-draft.ts';
import { linesOf } from './ability.ts';
import { unableEvidence } from './level.ts';
import { lastLevel } from './line.ts';
import type { SpaceMoment, UnitLines } from './state.ts';
import { fitNow, outdoorsAt, recentRise } from './warmth.ts';

/**
 * High temperature, forecast (contract 4; handbook 6 and 7): while units can't run and the rest can't carry the space, the
 * limit comes within the space's horizon. It begins with the sample that has it so, and ends when enough units may run again,
 * when the limit is measured, or when it is no longer in sight: beyond twice the horizon. Never more than probable.
 */
export interface OpenForecast {
  readonly start: Instant;
  /** as last told: the limit between these; null: the end can't be told */
  readonly soonest: Instant;
  readonly latest: Instant | null;
  readonly by: Forecast['by'];
  readonly certainty: Certainty;
  readonly periods: number;
  readonly evidence: readonly Evidence[];
  readonly members: readonly string[];
}

/** what a forecast must move by to be told anew: seconds, share of what is left [our choice] */
const MOVED_SECONDS = 60;
const MOVED_SHARE = 0.1;
const OUT_OF_SIGHT = 2;
const UNABLE: readonly (keyof UnitLines)[] = ['latched', 'powerless', 'failed', 'dropping', 'waiting'];

/** Which units can't run, as believed once every edge so far is past. */
export const unableUnits = ({ state, place }: SpaceMoment): string[] =>
  place.units
    .filter(({ id }) => UNABLE.some((name) => lastLevel(linesOf(state, id)[name]).so))
    .map(({ id }) => id);

export function followForecast(moment: SpaceMoment): void {
  const { state, place, t } = moment;
  const { warmth } = state;
  const unable = unableUnits(moment);
  if (unable.length === 0) {
    warmth.before = null;
    return over(moment, moment.moved ?? exactly(t));
  }
  warmth.before ??= loadOf(
    warmth.quarters,
    place.units.map(({ id }) => id),
    t,
  );
  if (carries(warmth.before.sum, place.units.length - unable.length) === 'yes')
    return over(moment, moment.moved ?? exactly(t));
  if (state.hot) return over(moment, state.hot.start);
  if (warmth.inside?.t !== t || warmth.inside.value === null) return;
  judge(moment, unable, warmth.inside.value);
}

function judge(moment: SpaceMoment, unable: readonly string[], inside: number): void {
  const { state, place, t } = moment;
  const limit = place.space?.temperatureLimit ?? null;
  // at the limit and not above it: it is measured, or it isn't, with the next sample
  if (limit === null || inside >= limit) return;
  const { warmth } = state;
  const horizon = place.space!.forecastSeconds;
  const found = forecastNow(moment, limit, inside, place.units.length - unable.length);
  const open = warmth.forecast;
  if (!found || found.soonest > (open ? OUT_OF_SIGHT : 1) * horizon) return over(moment, exactly(t));
  const told = {
    soonest: t + seconds(found.soonest),
    latest: found.latest === null ? null : t + seconds(found.latest),
    by: found.by,
    certainty: certaintyOf(moment, found, unable),
    periods: fitNow(warmth)?.periods ?? 0,
  };
  if (!open)
    warmth.forecast = {
      start: t,
      ...told,
      evidence: evidenceOf(moment, unable),
      members: [...unable].sort(),
    };
  else if (isMoved(open, told, t))
    warmth.forecast = { ...open, ...told, members: [...new Set([...open.members, ...unable])].sort() };
}

/** From where the space stands now, with so many of its units left. */
export function forecastNow(
  moment: SpaceMoment,
  limit: number,
  inside: number,
  able: number,
): Forecast | null {
  const { warmth } = moment.state;
  const rest = able > 0 ? restOf(warmth.before, able) : null;
  const since = moment.t - seconds(3600);
  const told = able === 0 || rest !== null;
  return forecast({
    fit: told ? fitNow(warmth) : null,
    limit,
    inside,
    outdoors: outdoorsAt(warmth, moment.t),
    period: able === 0 ? warmth.period : null,
    rest,
    rise: recentRise(warmth, since),
  });
}

/** What the units that are left carry of the load that was, taking them to be alike. */
function restOf(load: Load | null, able: number): Rest | null {
  if (!load?.sum || load.inside === null || load.outdoors === null || load.sum[0] <= 0) return null;
  return { share: [able / load.sum[1], able / load.sum[0]], inside: load.inside, outdoors: load.outdoors };
}

/** Probable where nothing cools any more and a fit carries it; else other histories fit as well. */
const certaintyOf = ({ place }: SpaceMoment, { by }: Forecast, unable: readonly string[]): Certainty =>
  by === 'linear-bound' || unable.length < place.units.length ? 'possible' : 'probable';

function isMoved(
  open: OpenForecast,
  told: Pick<OpenForecast, 'soonest' | 'latest' | 'by' | 'certainty'>,
  t: Instant,
) {
  const allowed = Math.max(seconds(MOVED_SECONDS), MOVED_SHARE * Math.max(0, open.soonest - t));
  const moved = (a: Instant | null, b: Instant | null): boolean =>
    (a === null) !== (b === null) || (a !== null && b !== null && Math.abs(a - b) > allowed);
  return (
    moved(open.soonest, told.soonest) ||
    moved(open.latest, told.latest) ||
    open.by !== told.by ||
    open.certainty !== told.certainty
  );
}

function over(moment: SpaceMoment, end: Span): void {
  const { warmth } = moment.state;
  if (!warmth.forecast) return;
  const { start } = warmth.forecast;
  // a way out that may have opened before the forecast itself was made
  const span = { earliest: Math.max(start, end.earliest), latest: Math.max(start, end.latest) };
  moment.out.event(forecastEvent(moment, warmth.forecast, span));
  warmth.forecast = null;
}

function evidenceOf({ state, place, context }: SpaceMoment, unable: readonly string[]): Evidence[] {
  const { inside, outdoors, before } = state.warmth;
  const temperature = (signal: Evidence['signal'], device: string, seen: typeof outdoors, says: string) =>
    seen && seen.value !== null ? [{ signal, device, t: seen.t, value: seen.value, says }] : [];
  const units = place.units
    .filter(({ id }) => unable.includes(id))
    .flatMap((unit) => unableEvidence(unit, linesOf(state, unit.id), lastLevel));
  const sum = before?.sum;
  const load = `over the ${hours(before)} before, the units’ run fractions add up to ${sum ? bounds(sum) : 'what isn’t known'}`;
  return [
    ...units,
    ...(units[0]
      ? [{ ...units[0], value: null, says: `${load}; ${left(place.units.length - unable.length)}` }]
      : []),
    ...temperature(
      'space-temperature',
      inside?.key.split('/')[0] ?? context.subject.device,
      inside,
      'so warm it was then',
    ),
    ...temperature('outdoor-temperature', 'site', outdoors, 'and so warm outdoors'),
  ];
}

const hours = (load: Load | null): string => `${Math.round(((load?.seconds ?? 0) / 3600) * 10) / 10} h`;
const left = (able: number): string =>
  able === 0 ? 'none is left' : able === 1 ? 'one is left' : `${able} are left`;
const bounds = ([low, high]: readonly [number, number]): string => {
  const [a, b] = [low.toFixed(2), high.toFixed(2)];
  return a === b ? a : `${a}–${b}`;
};

export function forecastEvent(
  { context, place }: SpaceMoment,
  open: OpenForecast,
  end: Span | null,
): EventDraft {
  const { start, soonest, latest, by, periods } = open;
  return draftAbout(context.subject, {
    kind: 'high-temperature',
    cause: 'forecast',
    discriminator: 'forecast',
    start: exactly(start),
    end,
    certainty: open.certainty,
    causeCertainty: open.certainty,
    pending: end ? [] : ['end'],
    measures: {
      limitTemperature: place.space?.temperatureLimit ?? null,
      soonestSeconds: inSeconds(soonest - start),
      ...(latest === null ? {} : { latestSeconds: inSeconds(latest - start) }),
      by: BY[by],
      ...(by === 'linear-bound' ? {} : { offPeriods: periods }),
    },
    evidence: open.evidence,
    members: open.members,
  });
}

const BY: Record<Forecast['by'], string> = {
  'two-masses': 'two masses fitted to its own off periods',
  'one-mass': 'one mass fitted to its own off periods',
  'linear-bound': 'the fastest rise seen: too little to fit',
};
