import { REFERENCE_SETTINGS } from '../../shared/control/settings.ts';
import { SECOND, seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { least } from '../../shared/inference/observability/knowable.ts';
import type { Point, Site } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { foldSiteOnce } from '../fixtures/fold-site.ts';
import type { PointSetup } from './case.ts';
import { dice, type Dice } from './dice.ts';
import { hear, movesOf, unitReading, type Heard, type Reading } from './gateway-record.ts';
import { liveSite, type SitePlant } from './site-plant.ts';
import { placeTruth, type PlaceTruth, type TrueUnit } from './site-truth.ts';
import { beyond, saysOf, statedOf, type Stated } from './stated.ts';
import type { Judged } from './tally.ts';
import { truthOf } from './truth.ts';

/** How a panel of several units in one room is wired and reports. */
export interface SiteSetup {
  readonly points: readonly PointSetup[];
  readonly contactsEvery: number | null;
  readonly voltageEvery: number | null;
  /** the panel's line voltage is measured as well */
  readonly line: boolean;
  readonly units: number;
  readonly jitter?: number;
  readonly hours: number;
}

/** A whole site's history with what it truly was, wherever it came from. */
export interface SiteCase {
  readonly seed: number;
  readonly from: Instant;
  readonly to: Instant;
  readonly site: Site;
  readonly rows: readonly Heard[];
  readonly places: readonly PlaceTruth[];
  readonly jitter: number;
  /** kinds that this source has no labels for */
  readonly unjudged: ReadonlySet<string>;
}

const BEGIN = 1_780_000_000 * SECOND;

export function makeSiteCase(seed: number, setup: SiteSetup): SiteCase {
  const chance = dice(seed + 77);
  const from = BEGIN;
  const to = from + seconds(setup.hours * 3_600);
  const plant = liveSite(setup.units, from, to, chance);
  const site = siteOf(setup, plant, chance.chance(0.5) ? 1 : Math.max(1, setup.units - 1));
  const rows = heardOf(site, plant, { from, to, jitter: setup.jitter ?? 0 }, chance);
  const units = plant.units.map(({ id, plant: { trace, changes } }): TrueUnit => {
    const unit = site.units.find((one) => one.id === id)!;
    return { unit, trace, changes };
  });
  const place = { units, panel: site.panels[0]!, space: site.spaces[0]!, outages: plant.outages, to };
  return { seed, from, to, site, rows, places: [place], jitter: setup.jitter ?? 0, unjudged: new Set() };
}

const reporting = (every: number | null) =>
  every === null ? { mode: 'on-change' } : { mode: 'polled', seconds: every };

function siteOf(setup: SiteSetup, { units }: SitePlant, unitsNeeded: number): Site {
  const points = setup.points.map((point) => ({
    ...point,
    reporting: reporting(point.signal === 'control-voltage' ? setup.voltageEvery : setup.contactsEvery),
  }));
  const line = [{ signal: 'line-voltage', reporting: reporting(setup.voltageEvery) }];
  const parsed = parseConfiguration('rowan', {
    timeZone: 'America/Chicago',
    gateways: [{ id: 'gateway', heartbeatSeconds: 60 }],
    spaces: [{ id: 'room', unitsNeeded }],
    panels: [{ id: 'panel-a', minimumStartSeparation: 2, points: setup.line ? line : [] }],
    units: units.map(({ id, offDelay }) => ({
      id,
      panel: 'panel-a',
      space: 'room',
      nameplate: { ratedLoadAmps: 17.9 },
      // the reference control's settings, all of them recorded
      protection: { ...REFERENCE_SETTINGS, offDelay },
      points,
    })),
  });
  if (!parsed.ok) throw new Error(JSON.stringify(parsed.faults));
  return parsed.site;
}

function heardOf(
  site: Site,
  { units, outages }: SitePlant,
  time: { readonly from: Instant; readonly to: Instant; readonly jitter: number },
  chance: Dice,
): Heard[] {
  const traces = new Map(units.map(({ id, plant }) => [id, plant.trace]));
  const line: Reading = (at) => (outages.some((away) => away.from <= at && at < away.to) ? 0 : 240);
  const moves = units.flatMap(({ plant }) => movesOf(plant.trace));
  return hear(
    {
      site,
      points: [...site.units.flatMap(({ points }) => points), ...site.panels[0]!.points],
      readingOf: (point: Point) => {
        const trace = traces.get(point.device);
        return trace ? unitReading(point, trace) : line;
      },
      moves: [...new Set([...moves, ...outages.flatMap((away) => [away.from, away.to])])].sort(
        (a, b) => a - b,
      ),
      ...time,
      dead: [],
      heartbeatSeconds: 30,
      clockError: {},
    },
    chance,
  );
}

/** The whole site folded once: each unit, each panel and each space with what it truly was. */
export function judgedOf(one: SiteCase): { readonly judged: Judged[]; readonly events: EventDraft[] } {
  const watch = { spans: [{ from: one.from, to: one.to }] };
  const events = foldSiteOnce({ history: [{ from: -Infinity, site: one.site }], rows: one.rows, watch });
  const stated = new Map(one.site.units.map(({ id }) => [id, statedOf(one.site, id, one.jitter)]));
  return { events, judged: one.places.flatMap((place) => ofPlace(one, place, events, stated)) };
}

function ofPlace(
  one: SiteCase,
  place: PlaceTruth,
  events: readonly EventDraft[],
  stated: ReadonlyMap<string, Stated>,
): Judged[] {
  const truths = placeTruth(place);
  const all = place.units.map(({ unit }) => stated.get(unit.id)!);
  const base = {
    seed: one.seed,
    from: one.from,
    to: one.to,
    blinded: false,
    unjudged: one.unjudged,
    toldAfter: null,
  };
  const ofUnits = place.units.map(({ unit, trace, changes }): Judged => {
    const recorded = [{ from: -Infinity, protection: unit.protection }];
    const own = truthOf({
      unit: { trace, changes: [...changes] },
      recorded,
      alarmInverted: false,
      to: one.to,
    });
    const says = stated.get(unit.id)!;
    return {
      ...base,
      device: unit.id,
      truths: [...own, ...truths.filter(({ device }) => device === unit.id)],
      told: events.filter((event) => event.unit === unit.id),
      says: (truth) => saysOf(says, truth),
      beyond: (event) => beyond(says, event),
    };
  });
  const places = [place.panel.id, ...(place.space ? [place.space.id] : [])];
  const ofPlaces = places.map((device): Judged => ({
    ...base,
    device,
    truths: truths.filter((truth) => truth.device === device),
    told: events.filter((event) => event.unit === null && placeOf(event) === device),
    // of a place, what every one of its units says
    says: (truth) => least(...all.map((says) => saysOf(says, truth))),
    beyond: (event) =>
      all.map((says) => beyond(says, event)).reduce((a, b) => (a === null || b === null ? null : a)),
  }));
  return [...ofUnits, ...ofPlaces];
}

const OF_SPACES: ReadonlySet<string> = new Set(['loss-of-cooling', 'high-temperature']);
const placeOf = (event: EventDraft): string | null =>
  event.gateway !== undefined || event.point !== undefined
    ? null
    : OF_SPACES.has(event.kind)
      ? event.space
      : event.panel;
