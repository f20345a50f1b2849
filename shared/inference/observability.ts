import type { Site } from '../telemetry/site.ts';
import { signalRow, type SignalName } from '../telemetry/signals.ts';
import { assumedIn, type AssumedSetting } from './observability/assumed.ts';
import { eyeOf, eyesOf } from './observability/eyes.ts';
import { rankedChanges, type Change } from './observability/gain.ts';
import type { Knowable } from './observability/knowable.ts';
import { knowablesOf } from './observability/knowables.ts';
import { short } from './observability/of-panel.ts';
import { summaryOf, type Observation } from './observability/summary.ts';

/**
 * What a unit's wiring, polarity, sense and reporting let one know and what not (handbook 3): for every kind of event and
 * every cause how surely at best, what is too short to be seen, which settings have to be assumed, and which single change
 * would tell more, the best for its cost first. The scoring bench holds every word of it against histories.
 */
export interface Observability {
  readonly summary: readonly Observation[];
  readonly kinds: readonly Knowable[];
  readonly blind: readonly BlindSpot[];
  readonly assumed: readonly AssumedSetting[];
  /** ranked; empty: nothing more can be told by this version */
  readonly changes: readonly Change[];
}

/** What a signal can't show because it is over too soon. */
export interface BlindSpot {
  readonly signal: SignalName;
  /** what lasts at least this long is seen, seconds */
  readonly shortestSeconds: number;
  readonly says: string;
}

/** Null: the site has no such unit. */
export function observabilityOf(site: Site, id: string): Observability | null {
  const unit = site.units.find((one) => one.id === id);
  if (!unit) return null;
  const eyes = eyesOf(site, unit);
  return {
    summary: summaryOf(eyes),
    kinds: knowablesOf(eyes),
    blind: unit.points.map((point) => {
      const { shortest, every, onChange } = eyeOf(site, point, null);
      const { name } = signalRow(point.signal);
      const says = onChange
        ? `The ${name} reports on change: what lasts ${short(shortest)} s is seen.`
        : `The ${name} is looked at every ${short(every)} s: what is over sooner can fall between two looks.`;
      return { signal: point.signal, shortestSeconds: shortest, says };
    }),
    assumed: assumedIn(unit.protection),
    changes: rankedChanges(site, unit),
  };
}
