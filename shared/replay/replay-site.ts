import { seconds, type Instant } from '../base/instant.ts';
import type { UnitEdge } from '../inference/edge.ts';
import type { EventDraft, Subject } from '../inference/event.ts';
import { FOLDS } from '../inference/folds.ts';
import { contextOf, membersOf } from '../inference/sources.ts';
import type { WatchCoverage } from '../inference/watch.ts';
import { siteAt, type Site, type SiteHistory } from '../telemetry/site.ts';
import { compareEvents, type EventDifference } from './compare-events.ts';
import { foldSubject, strand, type Asking, type Stretch } from './fold-subject.ts';
import { isSame, judgedHistory, type Histories } from './histories.ts';
import { replayOneUnit, type UnitResult } from './unit-result.ts';

/**
 * A stretch of a site's history run again under other settings: each unit's inputs through the reference control, and the
 * panels' and spaces' conclusions from what comes of it. It reads and answers; nothing of it is ever stored.
 */
export interface ReplayPlan extends Histories {
  readonly site: string;
  /** units to run through the control; their panels and spaces are concluded with all their units */
  readonly units: readonly string[];
  readonly from: Instant;
  readonly to: Instant;
  /** the site's now: nothing later is in the record */
  readonly now: Instant;
  readonly watch: WatchCoverage;
  /** by which share a timer may be off */
  readonly timerError: number;
}

export interface ReplayResult {
  readonly from: Instant;
  /** through when the record was replayed; before `to` where the record doesn't reach so far */
  readonly to: Instant;
  readonly units: readonly UnitResult[];
  /** what would be concluded otherwise, of units, panels and spaces */
  readonly events: readonly EventDifference[];
}

/** How much before the stretch is read: longer than any delay, and the hour over which starts are counted. */
const WARM_UP = seconds(2 * 3600);
/** How much after it, so that what happened at its end is decided. */
const AFTER = seconds(900);

export function* replaySite(plan: ReplayPlan): Asking<ReplayResult> {
  const until = Math.min(plan.now, plan.to + AFTER);
  const stretch: Stretch = { from: plan.from - WARM_UP, until, now: until };
  const site = siteAt(plan.recorded, until)!;
  const places = placesOf(plan, site);
  const wanted = new Set([
    ...plan.units,
    ...places.flatMap((place) => membersOf(site, place).map(({ id }) => id)),
  ]);
  const units = new Map<string, UnitResult>();
  for (const unit of site.units.filter(({ id }) => wanted.has(id)))
    units.set(unit.id, yield* replayOneUnit(plan, unit.id, stretch));
  const events: EventDifference[] = [...units.values()].flatMap(({ judged }) => judged);
  for (const place of places) events.push(...(yield* replayPlace(plan, place, units, stretch)));
  return {
    from: plan.from,
    to: Math.min(plan.to, plan.now),
    units: plan.units.flatMap((id) => units.get(id) ?? []),
    events,
  };
}

/** How many subjects a replay goes through: the measure of its progress. */
export function subjectsIn(plan: ReplayPlan): number {
  const site = siteAt(plan.recorded, Math.min(plan.now, plan.to + AFTER))!;
  const places = placesOf(plan, site);
  const wanted = new Set([
    ...plan.units,
    ...places.flatMap((place) => membersOf(site, place).map(({ id }) => id)),
  ]);
  return site.units.filter(({ id }) => wanted.has(id)).length + places.length;
}

/** The panels and spaces that may come to other conclusions: their own limits, or a control on them, are others. */
function placesOf(plan: ReplayPlan, site: Site): Subject[] {
  const judged = judgedHistory(plan);
  const changed = new Set(
    site.units
      .filter(({ id }) => !isSame(unitIn(plan.recorded, id), unitIn(plan.replayed, id)))
      .map(({ id }) => id),
  );
  const of = (kind: 'panel' | 'space', ids: readonly string[]): Subject[] =>
    ids.flatMap((device) => {
      const subject: Subject = { kind, site: plan.site, device };
      const own = !isSame(placeIn(plan.recorded, subject), placeIn(judged, subject));
      return own || membersOf(site, subject).some(({ id }) => changed.has(id)) ? [subject] : [];
    });
  return [
    ...of(
      'panel',
      site.panels.map(({ id }) => id),
    ),
    ...of(
      'space',
      site.spaces.map(({ id }) => id),
    ),
  ];
}

const unitIn = (history: SiteHistory, id: string) =>
  history.map(({ site }) => site.units.find((unit) => unit.id === id)?.protection);

const placeIn = (history: SiteHistory, { kind, device }: Subject) =>
  history.map(({ site }) => (kind === 'panel' ? site.panels : site.spaces).find(({ id }) => id === device));

function* replayPlace(
  plan: ReplayPlan,
  place: Subject,
  units: ReadonlyMap<string, UnitResult>,
  stretch: Stretch,
): Asking<EventDifference[]> {
  const of = (edgesOf: (unit: UnitResult) => readonly UnitEdge[]) => [...units.values()].flatMap(edgesOf);
  const members = Object.fromEntries([...units].map(([id, { knownThrough }]) => [id, knownThrough]));
  const fold = FOLDS[place.kind];
  const [seen, replayed] = [
    strand(
      fold,
      contextOf(plan.recorded, place, plan.watch, members),
      of(({ edges }) => edges.seen),
    ),
    strand(
      fold,
      contextOf(plan.replayed, place, plan.watch, members),
      of(({ edges }) => edges.replayed),
    ),
  ];
  yield* foldSubject([seen, replayed], stretch);
  return compareEvents(seen.events.filter(isCompared), replayed.events.filter(isCompared), plan);
}

/** A power loss is the same whatever the delays; what is silent stays silent. */
const isCompared = ({ kind }: EventDraft): boolean => kind !== 'power-loss' && kind !== 'telemetry-gap';
