import { inSeconds, type Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { CoolingAnswer, SpaceCooling, UnitCycling } from './cooling-answer.ts';
import { drawnLength, lengthBetween, spokenLength } from './durations.ts';
import { readInstant } from './standing-wire.ts';

/** What is said of a space's cooling and of a unit's cycling (handbook 6 and 7). Numbers in, words out. */
type Clock = (instant: Instant) => string;

/** `35 °C between 03:20 and 03:40`; with no end that can be told, `35 °C at 03:20 at the soonest`. */
export function reachText(
  limit: number,
  { soonest, latest }: { readonly soonest: string; readonly latest: string | null },
  clock: Clock,
): string {
  const from = clock(readInstant(soonest));
  const to = latest === null ? null : clock(readInstant(latest));
  if (to === null) return `${limit} °C at ${from} at the soonest`;
  return from === to ? `${limit} °C at ${from}` : `${limit} °C between ${from} and ${to}`;
}

/** The first thing to know: what is forecast, or why nothing can be. */
export function forecastText(space: SpaceCooling, clock: Clock): string | null {
  if (space.forecast && space.limit !== null) return `${reachText(space.limit, space.forecast, clock)}.`;
  if (space.unable.length === 0) return null;
  const why = untold(space);
  return why ? `Can’t be told: ${why}.` : null;
}

/** Why nothing can be said of a time to the limit; null: something can. */
function untold({ limit, measured }: SpaceCooling): string | null {
  if (!measured) return 'no room temperature';
  return limit === null ? 'no limit is recorded for this room' : null;
}

/** `Over the last 3 h the two units’ run fractions add up to 0.55, so one can carry it.` */
export function loadText({ load, units, unable }: SpaceCooling): string | null {
  if (!load || units.length === 0) return null;
  if (load.sum === null)
    return 'Whether fewer units can carry it can’t be told: how much each ran isn’t known, or is no measure of cooling.';
  const over = `Over the last ${spokenLength(load.seconds)}`;
  const sum = share(load.sum);
  if (units.length === 1) return `${over} its unit ${ranFor(load.sum)}.`;
  const added = `${over} the ${counted(units.length)} units’ run fractions add up to ${sum}`;
  const { fewest } = load;
  if (fewest === null) return `${added}: nothing is to spare.`;
  const left = units.length - unable.length;
  const carry = fewest === units.length ? 'so all are needed' : `so ${counted(fewest)} can carry it`;
  return unable.length > 0 && left < fewest
    ? `${added}; ${left === 0 ? 'none' : counted(left)} can run.`
    : `${added}, ${carry}.`;
}

function ranFor([low, high]: readonly [number, number]): string {
  if (high === 0) return 'didn’t run';
  const [least, most] = [Math.round(100 * low), Math.round(100 * high)];
  const part = most === 0 ? 'less than 1' : least === most ? `${most}` : `${least}–${most}`;
  return `ran ${part} % of the time`;
}

/** `Without any cooling: 35 °C between 14:10 and 14:40.` */
export function withoutText(space: SpaceCooling, clock: Clock): string {
  const why = untold(space);
  if (why) return `Without any cooling: can’t be told, ${why}.`;
  if (!space.without) {
    if (space.fit) return 'Without any cooling: it wouldn’t come to its limit, as far as can be told.';
    return 'Without any cooling: can’t be told yet, no warm-up has been seen.';
  }
  return `Without any cooling: ${reachText(space.limit!, space.without, clock)}.`;
}

/** What the time to the limit leans on. */
export function fitText(space: SpaceCooling): string {
  const { fit, offPeriods, outdoorsMeasured } = space;
  if (!fit) {
    const seen = `${offPeriods} ${offPeriods === 1 ? 'stretch' : 'stretches'} without any unit running`;
    const why = outdoorsMeasured ? `${seen}, 3 are needed` : 'no temperature outdoors';
    return `Too little to fit (${why}): only the fastest rise that was seen.`;
  }
  const masses = fit.masses === 'two' ? 'Two masses' : 'One mass';
  return `${masses}, fitted to ${fit.offPeriods} stretches without any unit running, the longest ${drawnLength(fit.longestSeconds)}: time constant ${lengthBetween(fit.slowSeconds, spokenLength)}, settles ${degrees(fit.aboveKelvin)} above outdoors. The range holds every warming that fits them.`;
}

/** `Ran 0.42–0.44 of the last 24 h, 2.3 starts an hour, at most 4 in one.` */
export function cyclingText(unit: UnitCycling): string {
  const length = spokenLength(inSeconds(readInstant(unit.to) - readInstant(unit.from)));
  if (!unit.runFraction) return `Whether it ran in the last ${length} isn’t known.`;
  const rate = unit.startsPerHour === null ? '' : `, ${unit.startsPerHour.toFixed(1)} starts an hour`;
  const unknown =
    unit.unknownSeconds >= 60
      ? ` Not known for ${spokenLength(unit.unknownSeconds)}, which is left out.`
      : '';
  return `Ran ${share(unit.runFraction)} of the last ${length}${rate}, at most ${unit.mostInAnHour} in one.${unknown}`;
}

/** `9 of 24 rooms run without a stop at 37 °C outside. Room 12 rises 1.1 K/h faster than its neighbours: look there.` */
export function comparisonText({ comparison, spaces, outdoors }: CoolingAnswer): string | null {
  const { known, withoutStop, faster } = comparison;
  if (known < 2) return null;
  const outside = outdoors === null ? '' : ` at ${outdoors.toFixed(0)} °C outside`;
  const name = (id: string): string => spaces.find((space) => space.id === id)?.name ?? id;
  const stops = `${withoutStop === 0 ? 'None' : withoutStop} of ${known} rooms ${withoutStop === 1 ? 'runs' : 'run'} without a stop${outside}`;
  const day = withoutStop > known / 3 ? ': a hot day' : '';
  const first = faster[0];
  const look = first
    ? ` ${name(first.id)} rises ${first.by.toFixed(1)} K/h faster than its neighbours: look there.`
    : '';
  return `${stops}${day}.${look}`;
}

const COUNTS = ['no', 'one', 'two', 'three', 'four', 'five', 'six'];
const counted = (count: number): string => COUNTS[count] ?? String(count);

const share = ([low, high]: Bounds): string => {
  const [a, b] = [low.toFixed(2), high.toFixed(2)];
  return a === b ? a : `${a}–${b}`;
};

function degrees([low, high]: Bounds): string {
  const [a, b] = [Math.round(low), Math.round(high)];
  if (b > 200) return `${a} K or more`;
  return a === b ? `${a} K` : `${a} to ${b} K`;
}
