import { formatInstant, SECOND, type Instant } from '../../../shared/base/instant.ts';
import type { EventView } from '../view/site-view.ts';

/** Which stretch of history a replay begins with, as the address has it: whole seconds. */
interface StretchWords {
  readonly from: string;
  readonly to: string;
}

const words = (from: Instant, to: Instant): StretchWords => ({
  from: formatInstant(Math.floor(from / SECOND) * SECOND),
  to: formatInstant(Math.ceil(to / SECOND) * SECOND),
});

/** Hours before an instant; the instant itself to the hour, so that the link keeps still while data come in. */
export function hoursBefore(at: Instant, hours: number): StretchWords {
  const hour = 3600 * SECOND;
  const to = Math.ceil(at / hour) * hour;
  return words(to - hours * hour, to);
}

/** An event with room at both sides: longer than a delay before, and what came of it after. */
export function stretchAround({ start, end }: EventView, now: Instant): StretchWords {
  const from = start.earliest - 900 * SECOND;
  return words(
    from,
    Math.min(Math.max(now, start.latest + SECOND), (end?.latest ?? start.latest) + 2700 * SECOND),
  );
}

/** The units whose settings an event asks about: its own, or those that took part in it. */
export const replayedUnits = ({ unit, members }: Pick<EventView, 'unit' | 'members'>): readonly string[] =>
  unit === null ? members : [unit];
