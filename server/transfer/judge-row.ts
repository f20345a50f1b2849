import { formatInstant, parseInstant, type Instant } from '../../shared/base/instant.ts';
import { clockShifts, type ClockShift } from '../../shared/telemetry/clock-shifts.ts';
import { FUTURE } from '../../shared/telemetry/sample.ts';
import { corrected } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';

export interface Bounds {
  readonly now: Instant;
  /** what was before it comes too late */
  readonly floor: Instant;
}

/** Whether a row's point and time may be taken into the record; says why not, and what to do. */
export class RowJudge {
  readonly #setup: Setup;
  readonly #bounds: Bounds;
  readonly #shifts = new Map<string, readonly ClockShift[]>();

  constructor(setup: Setup, bounds: Bounds) {
    this.#setup = setup;
    this.#bounds = bounds;
  }

  /** `text`: the row's last instant. */
  place(
    point: string,
    text: string,
  ): { readonly pointId: number; readonly t: Instant } | { readonly says: string } {
    const pointId = this.#setup.ids.points.get(point);
    const t = parseInstant(text);
    if (t === null)
      return { says: `"${text}" is no time: give ISO 8601 with its zone, as 2026-03-02T08:15:00.250Z.` };
    if (pointId === undefined)
      return {
        says: `${this.#setup.id} has no point ${point}: put it into the site’s configuration and import the line again.`,
      };
    const { now, floor } = this.#bounds;
    const at = corrected(this.#shiftsOf(point), t);
    if (at > now + FUTURE)
      return {
        says: `${text} lies more than 5 minutes ahead: mend the time, or import the line once it has come.`,
      };
    if (at < floor)
      return {
        says: `${text} lies before ${formatInstant(floor)}, the oldest instant that is retained here.`,
      };
    return { pointId, t };
  }

  #shiftsOf(point: string): readonly ClockShift[] {
    const known = this.#shifts.get(point) ?? clockShifts(this.#setup.history, point);
    this.#shifts.set(point, known);
    return known;
  }
}
