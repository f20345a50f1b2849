import type { Instant } from '../base/instant.ts';
import type { NeedsBy } from '../people/must-go.ts';
import type { SpaceCooling } from './cooling-answer.ts';
import { forecastText, loadText, reachText, withoutText } from './cooling-sentences.ts';
import { readInstant } from './standing-wire.ts';

/**
 * By when somebody is needed in some spaces, as far as their cooling tells (handbook 7, "must I go now?"): the space that
 * is first at its limit counts; then one of which it can't be told; then that nothing comes to it.
 */
type Clock = (instant: Instant) => string;

export function needsByOf(spaces: readonly SpaceCooling[], clock: Clock): NeedsBy {
  const each = spaces.map((space) => ofSpace(space, clock, spaces.length > 1));
  const soonest = each
    .filter((one) => one.kind === 'by')
    .reduce<(NeedsBy & { kind: 'by' }) | null>(
      (a, b) => (a === null || b.earliest < a.earliest ? b : a),
      null,
    );
  if (soonest !== null) return soonest;
  const unknown = each.find((one) => one.kind === 'not-known');
  return unknown ?? each[0] ?? { kind: 'not-known', says: 'it belongs to no room that is measured' };
}

function ofSpace(space: SpaceCooling, clock: Clock, isNamed: boolean): NeedsBy {
  const says = (text: string): string => (isNamed ? `${space.name}, ${text}` : text);
  const { limit, forecast, unable, units } = space;
  if (forecast && limit !== null)
    return {
      kind: 'by',
      earliest: readInstant(forecast.soonest),
      says: says(reachText(limit, forecast, clock)),
    };
  if (unable.length === 0) return { kind: 'not-needed', says: says('every unit of the room can run') };
  const untold = forecastText(space, clock);
  if (untold !== null)
    return { kind: 'not-known', says: says(untold.replace(/^Can’t be told: /, '').replace(/\.$/, '')) };
  if (isCarried(space)) return { kind: 'not-needed', says: says(lowered(loadText(space))) };
  // what stands can't be carried, and the fold forecasts nothing: as if nothing cooled at all, which is the worst
  if (space.without && limit !== null)
    return {
      kind: 'by',
      earliest: readInstant(space.without.soonest),
      says: says(`without any cooling ${reachText(limit, space.without, clock)}`),
    };
  const only =
    unable.length === units.length ? 'no warm-up has been seen yet' : 'how much it needs isn’t known';
  return { kind: 'not-known', says: says(only) };
}

/** Do the units that can run carry it, by what they ran of late (handbook 6)? */
const isCarried = ({ load, units, unable }: SpaceCooling): boolean =>
  load !== null && load.fewest !== null && units.length - unable.length >= load.fewest && load.sum !== null;

const lowered = (text: string | null): string => {
  const line = (text ?? '').replace(/\.$/, '');
  return line.charAt(0).toLowerCase() + line.slice(1);
};

/** What it means for cooling and how long there is, as sentences for a notice. */
export const coolingLines = (spaces: readonly SpaceCooling[], clock: Clock): string[] =>
  spaces.slice(0, 5).flatMap((space) => {
    const name = spaces.length > 1 ? `${space.name}: ` : '';
    const able = space.units.length - space.unable.length;
    return [
      `${name}${able} of ${space.units.length} units can run.`,
      ...[forecastText(space, clock), loadText(space), withoutText(space, clock)].filter(
        (line) => line !== null,
      ),
    ];
  });
