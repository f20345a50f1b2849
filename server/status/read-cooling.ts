import type { Queries } from '../../db/pool.ts';
import { readRunEdges } from '../../db/run-edges.ts';
import { readStandings } from '../../db/read-status.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { compareSpaces, type SpaceHour } from '../../shared/cooling/compare-spaces.ts';
import { cycledHours, fittedMost } from '../../shared/cooling/cycling.ts';
import {
  distribution,
  mostInAnHour,
  runFraction,
  runTimes,
  startRate,
  type RunEdge,
} from '../../shared/cooling/run-times.ts';
import { runEdgesOf } from '../../shared/inference/run-edges.ts';
import type { SpaceStanding, WarmingStanding } from '../../shared/inference/standing.ts';
import { siteAt, type Site, type Space } from '../../shared/telemetry/site.ts';
import type { CoolingAnswer, SpaceCooling, UnitCycling } from '../../shared/wire/cooling-answer.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from './read-status.ts';
import { rowKey, type Rows } from './site-parts.ts';

/** How a site is cooled (handbook 6): how its units cycle, counted from their edges, and what its spaces' folds learned. */
export function readCooling(service: Service, id: string, hours: number): Promise<CoolingAnswer | null> {
  return inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, id);
    const now = service.now();
    const site = setup && siteAt(setup.history, now);
    if (!site) return null;
    const rows: Rows = new Map((await readStandings(queries, [id])).map((row) => [rowKey(row), row]));
    const edges = new Map<string, RunEdge[]>();
    for (const { device, edge } of await readRunEdges(queries, id, now - seconds(hours * 3600), now))
      edges.set(device, [...(edges.get(device) ?? []), ...runEdgesOf([edge])]);
    const through = (unit: string): Instant =>
      Math.min(now, rows.get(`unit/${unit}`)?.knownThrough ?? now - seconds(hours * 3600));
    const of = (unit: string): readonly RunEdge[] => edges.get(unit) ?? [];
    const spaces = site.spaces.map((space) => spaceCooling(site, space, rows));
    return {
      site: id,
      serverTime: wireInstant(now)!,
      outdoors: outdoorsOf(site, rows),
      comparison: comparisonOf(spaces, of, through),
      spaces,
      units: site.units.map((unit) =>
        cyclingOf(unit.id, of(unit.id), now - seconds(hours * 3600), through(unit.id)),
      ),
    };
  });
}

/** What its spaces' folds have learned, for whoever has a snapshot already. */
export async function readSpaces(queries: Queries, site: Site): Promise<SpaceCooling[]> {
  const rows: Rows = new Map((await readStandings(queries, [site.id])).map((row) => [rowKey(row), row]));
  return site.spaces.map((space) => spaceCooling(site, space, rows));
}

function cyclingOf(id: string, edges: readonly RunEdge[], from: Instant, through: Instant): UnitCycling {
  const to = Math.max(from, through);
  const times = runTimes(edges, from, to);
  // the last whole hours before `to`
  const hours = cycledHours(edges, to - Math.floor((to - from) / seconds(3600)) * seconds(3600), to);
  return {
    id,
    from: wireInstant(from)!,
    to: wireInstant(to)!,
    knownSeconds: times.knownSeconds,
    unknownSeconds: times.unknownSeconds,
    runFraction: runFraction(times),
    starts: times.starts.length,
    startsPerHour: startRate(times),
    mostInAnHour: mostInAnHour(times.starts),
    on: distribution(times.runs),
    off: distribution(times.rests),
    cut: times.cut,
    curve: fittedMost(hours),
    hours: hours.map((hour) => ({ ...hour, from: wireInstant(hour.from)! })),
  };
}

const standingOf = (rows: Rows, space: string): SpaceStanding | null =>
  rows.get(`space/${space}`)?.standing?.space ?? null;

function spaceCooling(site: Site, space: Space, rows: Rows): SpaceCooling {
  const standing = standingOf(rows, space.id);
  const warming = standing?.warming ?? null;
  return {
    id: space.id,
    name: space.name,
    units: site.units.filter((unit) => unit.space === space.id).map(({ id }) => id),
    limit: space.temperatureLimit,
    measured: standing?.temperature?.value != null,
    outdoorsMeasured: warming?.outdoors?.value != null,
    load: warming && { seconds: warming.loadSeconds, sum: warming.load, fewest: warming.fewest },
    offPeriods: warming?.periods ?? 0,
    fit: warming && fitOf(warming),
    without: warming && withoutOf(warming),
    forecast: warming?.forecast
      ? { soonest: wireInstant(warming.forecast.soonest)!, latest: wireInstant(warming.forecast.latest) }
      : null,
    unable: [...(warming?.unable ?? [])],
    risePerHour: warming?.risePerHour ?? null,
  };
}

function fitOf({ fit }: WarmingStanding): SpaceCooling['fit'] {
  if (!fit) return null;
  const { masses, periods, ...rest } = fit;
  return { masses: masses === 2 ? 'two' : 'one', offPeriods: periods, ...rest };
}

/** Times that are further off than an instant reaches aren't in sight. */
const FAR = 30 * 86_400;

function withoutOf({ without, insideAt }: WarmingStanding): SpaceCooling['without'] {
  if (!without || insideAt === null || without.soonest > FAR) return null;
  const at = (after: number | null): string | null =>
    after === null ? null : wireInstant(insideAt + seconds(after));
  return { soonest: at(without.soonest)!, latest: at(without.latest), by: without.by };
}

const outdoorsOf = (site: Site, rows: Rows): number | null =>
  site.spaces
    .map(({ id }) => standingOf(rows, id)?.warming?.outdoors?.value ?? null)
    .find((value) => value !== null) ?? null;

function comparisonOf(
  spaces: readonly SpaceCooling[],
  of: (unit: string) => readonly RunEdge[],
  through: (unit: string) => Instant,
): CoolingAnswer['comparison'] {
  const hours = spaces.map(({ id, units, risePerHour }): SpaceHour => {
    const fractions = units.map((unit) =>
      runFraction(runTimes(of(unit), through(unit) - seconds(3600), through(unit))),
    );
    const least = fractions.reduce((a, b) => (a && b && b[0] < a[0] ? b : a && b), fractions[0] ?? null);
    return { id, fraction: least ?? null, rise: risePerHour };
  });
  const { known, withoutStop, faster } = compareSpaces(hours);
  return { known, withoutStop, faster: [...faster] };
}
