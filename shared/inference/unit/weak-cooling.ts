import { seconds, type Instant } from '../../base/instant.ts';
import { later, type Span } from '../../base/span.ts';
import type { SignalName } from '../../telemetry/signals.ts';
import type { Unit } from '../../telemetry/site.ts';
import { edgesIn, lose, takePolled, type Edge } from '../track.ts';
import type { Belief } from './belief.ts';
import { draft, saw, type Moment } from './moment.ts';
import type { Wire } from './wiring.ts';

/**
 * Weak cooling by air temperatures (handbook 4 rule 12; its figures from memory): a run of at least 10 min in which the
 * return air has been less than 5 K warmer than the supply air for 5 min, up to then. That it was so is an observed fact, and
 * certain; why is open: charge, a compressor that doesn't pump, a reversing valve, phase rotation after supply work, airflow.
 * What a run's first minutes look like counts only if it lasts. A heat pump may be heating or defrosting: possible there.
 *
 * The difference is a track of its own, 1 while it is small, taken at each sample of either from the newest of both.
 */
const LEAST_DIFFERENCE = 5;
const LEAST_RUN = seconds(600);
const LEAST_LASTING = seconds(300);

/** What of it is decided so far. */
export interface AirDifference {
  /** since when it has been small; null: it isn't, or isn't known */
  small: Span | null;
  /** a small difference that has lasted in this run: since when, and was it decided before everything was known? */
  weak: { readonly since: Span; readonly tentative: boolean } | null;
  /** when it should have lasted, that wasn't seen; until the next change */
  unseen: boolean;
}

const SUPPLY: SignalName = 'supply-air-temperature';
const RETURN: SignalName = 'return-air-temperature';

/** Is a difference in K small? A heat pump that heats turns it around. */
export const smallDifference =
  ({ equipment }: Unit) =>
  (difference: number): number =>
    (equipment === 'heat-pump' ? Math.abs(difference) : difference) < LEAST_DIFFERENCE ? 1 : 0;

/** A sample of either has been seen: the edges that it makes. Polled or not, the difference is known at samples alone. */
export function takeAir(belief: Belief, t: Instant, of: Wire['roles'][number]['of']): readonly Edge[] {
  const supply = belief.seen[SUPPLY]?.value ?? null;
  const back = belief.seen[RETURN]?.value ?? null;
  if (supply === null || back === null) return lose(belief.tracks.air, t);
  const edge = takePolled(belief.tracks.air, t, of(back - supply, null));
  return edge ? [edge] : [];
}

export function airChanged(moment: Moment, edge: Edge): void {
  const { air } = moment.belief;
  endWeak(moment, edge);
  air.small = edge.to === 1 ? { earliest: edge.earliest, latest: edge.latest } : null;
}

/** The run has begun, ended, or isn't known any more. */
export function endWeak({ belief, ...rest }: Moment, end: Span): void {
  const { weak } = belief.air;
  belief.air.weak = null;
  belief.air.unseen = false;
  if (!weak) return;
  const over = { earliest: Math.max(end.earliest, weak.since.earliest), latest: end.latest };
  rest.out.event(weakEvent({ belief, ...rest }, weak, over));
}

/** When the run and the small difference will both have lasted; null: nothing waits for that. */
export function weakAt({ air, run }: Belief): Instant | null {
  if (air.weak || air.unseen || !air.small || !run || run.broken !== null) return null;
  return Math.max(run.start.latest + LEAST_RUN, air.small.latest + LEAST_LASTING);
}

export function weakLasted(moment: Moment, at: Instant): void {
  const { air, run, tracks } = moment.belief;
  // between two polls it may have ended sooner: that it lasted wasn't seen
  if (edgesIn(tracks.output, at, at).length + edgesIn(tracks.air, at, at).length > 0) air.unseen = true;
  else air.weak = { since: later(run!.start, air.small!), tentative: moment.tentative };
}

export function weakEvent(moment: Moment, weak: NonNullable<AirDifference['weak']>, end: Span | null) {
  return draft(
    moment,
    {
      kind: 'weak-cooling',
      cause: 'air-difference',
      start: weak.since,
      end,
      certainty: moment.wiring.unit.equipment === 'heat-pump' ? 'possible' : 'certain',
      causeCertainty: null,
      pending: [],
      measures: { belowKelvin: LEAST_DIFFERENCE },
      candidates: [],
      evidence: [
        saw(
          moment,
          'air',
          weak.since.latest,
          null,
          'return air less than 5 K warmer than supply air, 10 min into the run and for 5 min or more',
        ),
      ],
    },
    weak,
  );
}
