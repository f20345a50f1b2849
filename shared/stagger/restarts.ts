import type { Bounds } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import { spacingVerdict, type SpacingVerdict } from '../inference/panel/spacing.ts';

/** What a restart sequence (contract 4) tells of the starts of a panel's units, and what other waits would have made of it. */
export interface SeenPair {
  readonly first: string;
  readonly second: string;
  /** s, as an interval */
  readonly spacing: Bounds;
  readonly verdict: SpacingVerdict;
}

export interface SeenStart {
  readonly unit: string;
  /** s after the power's return */
  readonly started: Bounds;
  /** s after it was planned under the settings recorded then; null: nothing was planned */
  readonly deviation: Bounds | null;
}

/** What of a restart sequence is read. */
export type Told = Pick<EventDraft, 'measures' | 'members'>;

/** Neighbours whose starts the waits have set, in the order in which they started. */
export function pairsOf({ measures, members }: Told): SeenPair[] {
  const order = startsOf({ measures, members }).map(({ unit }) => unit);
  return Object.keys(measures)
    .flatMap((name): SeenPair[] => {
      const [, first, second] = /^(.+)>(.+)\.spacingSeconds$/.exec(name) ?? [];
      const spacing = bounds(measures[name]);
      if (first === undefined || second === undefined || !spacing) return [];
      return [{ first, second, spacing, verdict: measures[`${first}>${second}.verdict`] as SpacingVerdict }];
    })
    .sort((a, b) => order.indexOf(a.first) - order.indexOf(b.first));
}

/** Starts that a wait has set; one that a call has set takes no part in the stagger (handbook 5.3). */
export const startsOf = ({ measures, members }: Told): SeenStart[] =>
  members
    .flatMap((unit): SeenStart[] => {
      const started = bounds(measures[`${unit}.startedSeconds`]);
      if (measures[`${unit}.outcome`] !== 'started' || measures[`${unit}.setBy`] !== 'wait' || !started)
        return [];
      return [{ unit, started, deviation: bounds(measures[`${unit}.deviationSeconds`]) }];
    })
    .sort((a, b) => middle(a.started) - middle(b.started));

function bounds(measure: EventDraft['measures'][string] | undefined): Bounds | null {
  if (typeof measure === 'number') return [measure, measure];
  return Array.isArray(measure) ? (measure as unknown as Bounds) : null;
}

const middle = ([low, high]: Bounds): number => (low + high) / 2;

/**
 * Neighbours with the starts of some units shifted (s by unit): arithmetic, for units that can't be replayed. Each spacing is as
 * uncertain as its two starts are.
 */
export function shiftedPairs(
  seen: readonly Pick<SeenStart, 'unit' | 'started'>[],
  shifts: ReadonlyMap<string, number>,
  minimum: number,
): SeenPair[] {
  const starts = seen
    .map(({ unit, started: [low, high] }) => {
      const by = shifts.get(unit) ?? 0;
      return { unit, started: [low + by, high + by] as const };
    })
    .sort((a, b) => middle(a.started) - middle(b.started));
  return starts.slice(1).map((second, i): SeenPair => {
    const first = starts[i]!;
    const spacing: Bounds = [
      Math.max(0, second.started[0] - first.started[1]),
      second.started[1] - first.started[0],
    ];
    return { first: first.unit, second: second.unit, spacing, verdict: spacingVerdict(spacing, minimum) };
  });
}

export interface Spared {
  /** neighbours that started together as seen */
  readonly together: number;
  /** of those, how many starts less would have come together with the waits shifted */
  readonly spared: number;
}

/**
 * What would have been with each unit's wait longer by `shifts` (s by unit): arithmetic on what was seen, for a list; a replay
 * says it with the control itself. Counted over the sequences given; a plan that would have brought others together spares less.
 */
export function sparedIn(
  sequences: readonly EventDraft[],
  shifts: ReadonlyMap<string, number>,
  minimum: number,
): Spared {
  let [together, after] = [0, 0];
  for (const event of sequences) {
    together += pairsOf(event).filter(({ verdict }) => verdict === 'simultaneous').length;
    const at = startsOf(event)
      .map(({ unit, started }) => middle(started) + (shifts.get(unit) ?? 0))
      .sort((a, b) => a - b);
    after += at.slice(1).filter((start, i) => start - at[i]! < minimum - 1e-6).length;
  }
  return { together, spared: Math.max(0, together - after) };
}
