import { groupedBy } from '../shared/base/grouped.ts';
import type { Instant } from '../shared/base/instant.ts';
import type { PanelCount, SiteCounts, SpaceTime, UnitCount, UnitRuns } from '../shared/report/counts.ts';
import { statement, type Queries, type Statement } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * What monthly reports count, added up where it lies: a month of a fleet is millions of runs. A stretch a site, because each
 * site's month is by its own wall. An event's times are taken at the late ends of their intervals; what began long before the
 * stretch is looked for a month back (`BACK`), a run or a loss of cooling of longer than that is cut there.
 */
export interface ReportStretch {
  readonly site: string;
  readonly from: Instant;
  /** not later than now */
  readonly to: Instant;
}

const BACK = "interval '35 days'";

const ASKED = `asked as (
  select site, from_at, to_at from unnest($1::text[], $2::timestamptz[], $3::timestamptz[]) as a (site, from_at, to_at))`;

/** Seconds of an event inside the stretch. */
const INSIDE = `extract(epoch from least(coalesce(e.end_latest, a.to_at), a.to_at) - greatest(e.start_latest, a.from_at))::float8`;
const TOUCHES = `e.site = a.site and e.withdrawn_at is null and e.start_latest < a.to_at
  and e.start_latest >= a.from_at - ${BACK} and (e.end_latest is null or e.end_latest > a.from_at)
  and e.certainty in ('certain', 'probable')`;
const BEGINS = `e.site = a.site and e.withdrawn_at is null and e.start_latest >= a.from_at and e.start_latest < a.to_at
  and e.certainty in ('certain', 'probable')`;

const RUNS = statement(
  'report-runs',
  `with ${ASKED}
   select a.site, e.unit, count(*) filter (where e.start_latest >= a.from_at) as starts, sum(${INSIDE}) as "runSeconds"
   from asked a join events e on ${TOUCHES} and e.kind = 'compressor-run' and e.unit is not null
   group by a.site, e.unit`,
);

const UNITS = statement(
  'report-units',
  `with ${ASKED}
   select a.site, e.unit, e.kind, coalesce(e.cause, '') as cause, count(*) as count
   from asked a join events e on ${BEGINS} and e.unit is not null and e.kind in ('short-cycle', 'soft-lockout',
     'hard-lockout', 'undervoltage-hold', 'failed-start', 'stuck-contactor')
   group by a.site, e.unit, e.kind, e.cause`,
);

const PANELS = statement(
  'report-panels',
  `with ${ASKED}
   select a.site, e.panel, e.kind, coalesce(e.body -> 'measures' ->> case when e.kind = 'restart-sequence' then 'verdict'
     else 'class' end, '') as of, count(*) as count
   from asked a join events e on ${BEGINS} and e.panel is not null and e.unit is null
     and e.kind in ('voltage-sag', 'voltage-swell', 'interruption', 'restart-sequence')
   group by 1, 2, 3, 4`,
);

/** The time that a space was without, less the time that nobody listened to. */
const SPACES = statement(
  'report-spaces',
  `with ${ASKED}, unheard as (
     select a.site, range_agg(tstzrange(e.start_latest, coalesce(e.end_latest, 'infinity'))) as gaps
     from asked a join events e on ${TOUCHES} and e.kind = 'telemetry-gap' and e.cause in ('gateway-silent', 'not-watched')
       and e.start_latest < coalesce(e.end_latest, 'infinity')
     group by a.site),
   without as (
     select a.site, e.space, case when e.kind = 'high-temperature' then 'hot' else e.cause end as what,
       range_agg(tstzrange(e.start_latest, coalesce(e.end_latest, 'infinity')))
         * tstzmultirange(tstzrange(a.from_at, a.to_at)) - coalesce(u.gaps, '{}') as times
     from asked a left join unheard u on u.site = a.site join events e on ${TOUCHES} and e.space is not null
       and (e.kind = 'loss-of-cooling' or (e.kind = 'high-temperature' and e.cause = 'measured'))
       and e.start_latest < coalesce(e.end_latest, 'infinity')
     group by a.site, e.space, what, a.from_at, a.to_at, u.gaps)
   select w.site, w.space, w.what, sum(extract(epoch from upper(r) - lower(r)))::float8 as seconds
   from without w, unnest(w.times) as r group by w.site, w.space, w.what`,
);

/** From when on a site's gateways were heard at all, and the time through which all of its gateways were heard and listened to. */
const KNOWN = statement(
  'report-known',
  `with ${ASKED}, seen as (
     select a.site, a.to_at, greatest(a.from_at, (select min(l.t) from points p, lateral (
       select s.t from samples s where s.point_id = p.id order by s.t limit 1) l
       where p.site = a.site and p.signal = 'life')) as from_at,
       (select coalesce(range_agg(tstzrange(e.start_latest, coalesce(e.end_latest, 'infinity'))), '{}')
        from events e where ${TOUCHES} and e.kind = 'telemetry-gap' and e.cause in ('gateway-silent', 'not-watched')
          and e.start_latest < coalesce(e.end_latest, 'infinity')) as gaps
     from asked a)
   select site, extract(epoch from to_at - from_at)::float8 as seconds,
     coalesce((select sum(extract(epoch from upper(r) - lower(r))) from
       unnest(tstzmultirange(tstzrange(from_at, to_at)) - gaps) as r), 0)::float8 as "knownSeconds"
   from seen where from_at < to_at`,
);

type Of<T> = T & { readonly site: string };

/** One a stretch, in their order; a site of which nothing was seen has zeros. */
export async function readSiteCounts(
  queries: Queries,
  stretches: readonly ReportStretch[],
): Promise<SiteCounts[]> {
  const values = [
    stretches.map(({ site }) => site),
    stretches.map(({ from }) => timeParameter(from)),
    stretches.map(({ to }) => timeParameter(to)),
  ];
  const ask = async <T>(one: Statement): Promise<ReadonlyMap<string, readonly T[]>> =>
    groupedBy(await queries.many<Of<T>>(one, values), ({ site }) => site);
  const runs = await ask<UnitRuns>(RUNS);
  const units = await ask<UnitCount>(UNITS);
  const panels = await ask<PanelCount>(PANELS);
  const spaces = await ask<SpacePart>(SPACES);
  const known = await ask<Pick<SiteCounts, 'seconds' | 'knownSeconds'>>(KNOWN);
  return stretches.map(({ site }) => ({
    site,
    seconds: known.get(site)?.[0]?.seconds ?? 0,
    knownSeconds: known.get(site)?.[0]?.knownSeconds ?? 0,
    runs: runs.get(site) ?? [],
    units: units.get(site) ?? [],
    panels: panels.get(site) ?? [],
    spaces: spaceTimes(spaces.get(site) ?? []),
  }));
}

interface SpacePart {
  readonly space: string;
  readonly what: 'lost' | 'reduced' | 'hot';
  readonly seconds: number;
}

function spaceTimes(parts: readonly SpacePart[]): SpaceTime[] {
  return [...groupedBy(parts, ({ space }) => space)].map(([space, own]) => {
    const of = (what: SpacePart['what']): number => own.find((one) => one.what === what)?.seconds ?? 0;
    return { space, lostSeconds: of('lost'), reducedSeconds: of('reduced'), hotSeconds: of('hot') };
  });
}
