import { inSeconds, seconds, type Instant } from '../base/instant.ts';
import type { EventDraft } from '../inference/event.ts';

/** Three in a row, each within 10 s of a start (handbook 6 and 7). */
const IN_ROW = 3;
const NEAR_START_SECONDS = 10;

/**
 * Undervoltage holds of a unit whose last three runs were all dropped by undervoltage within 10 s of their starts: the
 * third hold, which stands until a run has lasted longer.
 */
export function holdsInRow(
  holds: readonly EventDraft[],
  events: readonly EventDraft[],
  through: Instant,
): EventDraft[] {
  // a run that has only begun tells nothing yet
  const runs = events.filter(
    ({ kind, unit, start, end }) =>
      kind === 'compressor-run' &&
      unit !== null &&
      (end !== null || through - start.latest > seconds(NEAR_START_SECONDS)),
  );
  const units = [...new Set(holds.map(({ unit }) => unit))];
  return units.flatMap((unit) => {
    const own = runs
      .filter((run) => run.unit === unit)
      .toSorted((a, b) => a.start.latest - b.start.latest)
      .slice(-IN_ROW);
    if (own.length < IN_ROW || !own.every(isDroppedAtStart)) return [];
    const hold = holds
      .filter((one) => one.unit === unit)
      .toSorted((a, b) => b.start.latest - a.start.latest)[0];
    return hold ? [{ ...hold, end: null }] : [];
  });
}

const isDroppedAtStart = ({ cause, start, end }: EventDraft): boolean =>
  cause === 'undervoltage' && end !== null && inSeconds(end.latest - start.earliest) <= NEAR_START_SECONDS;
