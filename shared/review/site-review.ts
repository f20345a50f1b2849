import type { Instant } from '../base/instant.ts';
import type { Bounds } from '../base/span.ts';
import type { EventDraft } from '../inference/event.ts';
import type { SpacingVerdict } from '../inference/panel/spacing.ts';
import type { Site, Unit } from '../telemetry/site.ts';
import { disturbances, panelSupplies, stretchOf, type PanelSupply } from './disturbances.ts';
import type { SiteShare } from './group.ts';
import { restartOf, worstVerdict, type PanelRestart } from './restarts.ts';
import { rideThrough, type RideThrough } from './ride-through.ts';
import { roomReviews, type Reading, type RoomReview } from './rooms.ts';
import { covered, type Stretch } from './stretches.ts';

/** What a power event did at one site. */
export interface SiteReview {
  readonly share: SiteShare;
  /** what is reviewed ends here; what lasts is counted so far */
  readonly until: Instant;
  readonly panels: readonly PanelSupply[];
  /** seconds without power on the panel that was longest without */
  readonly away: Bounds;
  readonly outages: number;
  /** seconds on the generator */
  readonly onGenerator: Bounds;
  readonly restarts: readonly PanelRestart[];
  /** of all restarts the worst; null: no two starts to compare */
  readonly verdict: SpacingVerdict | null;
  readonly units: readonly RideThrough[];
  readonly rooms: readonly RoomReview[];
  /** hard lockouts that began in it or soon after its restarts */
  readonly latched: readonly EventDraft[];
  readonly together: readonly EventDraft[];
  readonly notBack: readonly string[];
  readonly todo: readonly Todo[];
}

/** What is to be done about it, most pressing first. */
export type Todo =
  | { readonly kind: 'latched' | 'not-back'; readonly unit: string }
  | { readonly kind: 'above-limit'; readonly space: string }
  | { readonly kind: 'stagger'; readonly panel: string }
  | { readonly kind: 'poll-faster'; readonly panel: string; readonly seconds: number };

export interface ReviewInput {
  /** the settings that held when it began */
  readonly site: Site;
  readonly share: SiteShare;
  /** of the site, from an hour before it began to `until`, any kinds */
  readonly events: readonly EventDraft[];
  /** by space */
  readonly highest: ReadonlyMap<string, Reading>;
  /** by unit */
  readonly knownThrough: ReadonlyMap<string, Instant | null>;
  readonly until: Instant;
}

export function siteReview(input: ReviewInput): SiteReview {
  const { site, share, events, until, highest } = input;
  const panels = panelSupplies(share, events);
  const ids = new Set(share.facts.map(({ id }) => id));
  const restarts = events
    .filter(({ id, kind }) => kind === 'restart-sequence' && ids.has(id))
    .sort((a, b) => a.start.latest - b.start.latest || (a.panel! < b.panel! ? -1 : 1))
    .map(restartOf);
  const reached = site.units.filter(({ panel }) => share.panels.includes(panel));
  const units = reached.map((unit) => rideOf(input, unit, panels, restarts));
  const runs = events.filter(({ kind }) => kind === 'compressor-run');
  const rooms = roomReviews({ site, rides: units, runs, highest, until });
  const latched = events.filter(
    ({ kind, start, unit }) =>
      kind === 'hard-lockout' &&
      start.latest >= share.start.earliest &&
      reached.some(({ id }) => id === unit),
  );
  const notBack = units.filter(({ stillOff }) => stillOff).map(({ unit }) => unit);
  const found = {
    share,
    until,
    panels,
    away: worst(panels.map(({ away }) => covered(away, until))),
    outages: Math.max(0, ...panels.map(({ away }) => away.length)),
    onGenerator: worst(panels.map(({ onGenerator }) => covered(onGenerator, until))),
    restarts,
    verdict: verdictOf(restarts, units),
    units,
    rooms,
    latched,
    together: events.filter(({ id, kind }) => kind === 'simultaneous-start' && ids.has(id)),
    notBack,
  };
  return { ...found, todo: todoOf(found) };
}

/** A unit that isn't known may have started beside any other: nothing was kept apart for certain. */
function verdictOf(restarts: readonly PanelRestart[], units: readonly RideThrough[]): SpacingVerdict | null {
  const worstSeen = worstVerdict(restarts);
  const unknown = units.some(({ outcome }) => outcome === 'not-known');
  return worstSeen === 'separate' && unknown ? 'cannot-be-told' : worstSeen;
}

function rideOf(
  { events, knownThrough, until }: ReviewInput,
  unit: Unit,
  panels: readonly PanelSupply[],
  restarts: readonly PanelRestart[],
): RideThrough {
  const supply = panels.find(({ panel }) => panel === unit.panel);
  return rideThrough({
    unit,
    events: events.filter((event) => event.unit === unit.id),
    disturbances: supply ? disturbances(supply) : [],
    outcomes: restarts.flatMap((one) => one.units.filter((restart) => restart.unit === unit.id)),
    unknown: gapsOf(events, unit),
    knownThrough: knownThrough.get(unit.id) ?? null,
    until,
  });
}

/** Silences of the gateways that a unit's runs are told by. */
const gapsOf = (events: readonly EventDraft[], unit: Unit): Stretch[] =>
  events
    .filter((event) => event.kind === 'telemetry-gap' && event.cause !== 'not-watched')
    .filter(
      (event) =>
        event.unit === unit.id ||
        (event.cause === 'gateway-silent' && unit.points.some(({ gateway }) => gateway === event.gateway)),
    )
    .map(stretchOf);

const worst = (all: readonly Bounds[]): Bounds => all.reduce<Bounds>((a, b) => (b[1] > a[1] ? b : a), [0, 0]);

function todoOf(review: Omit<SiteReview, 'todo'>): Todo[] {
  const { latched, notBack, rooms, restarts } = review;
  const still = latched.filter(({ end }) => end === null);
  const panels = (verdict: SpacingVerdict) => [
    ...new Set(restarts.filter((one) => one.verdict === verdict).map(({ panel }) => panel)),
  ];
  return [
    ...still.map(({ unit }) => ({ kind: 'latched' as const, unit: unit! })),
    ...notBack.map((unit) => ({ kind: 'not-back' as const, unit })),
    ...rooms.filter(isAboveLimit).map(({ space }) => ({ kind: 'above-limit' as const, space })),
    ...panels('simultaneous').map((panel) => ({ kind: 'stagger' as const, panel })),
    ...panels('cannot-be-told').map((panel) => ({
      kind: 'poll-faster' as const,
      panel,
      seconds: tellingPeriod(restarts, panel),
    })),
  ];
}

export const isAboveLimit = ({ highest, limit }: RoomReview): boolean =>
  highest !== null && limit !== null && highest.value > limit;

/** The longest polling period that would have told all pairs of a panel; 0: only reporting on change. */
const tellingPeriod = (restarts: readonly PanelRestart[], panel: string): number =>
  Math.min(
    ...restarts
      .filter((one) => one.panel === panel)
      .flatMap(({ spacings }) => spacings.flatMap(({ tellingPeriodSeconds }) => tellingPeriodSeconds ?? [])),
  );
