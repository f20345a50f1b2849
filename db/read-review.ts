import type { Instant } from '../shared/base/instant.ts';
import type { EventDraft } from '../shared/inference/event.ts';
import type { SupplyFact, SupplyKind } from '../shared/review/supply-fact.ts';
import { statement, type Queries } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** What the reviews of power events read: events by time, never a fold's state. Everything has its bound. */
interface FactRow {
  readonly id: string;
  readonly site: string;
  readonly panel: string | null;
  readonly unit: string | null;
  readonly kind: SupplyKind;
  readonly cause: string | null;
  readonly certainty: SupplyFact['certainty'];
  readonly startEarliest: Instant;
  readonly startLatest: Instant;
  readonly end: Instant | null;
  readonly residual: number | readonly number[] | string | null;
  readonly atOwnStart: boolean;
}

/** What began up to 31 days before the stretch and touches it; a dip's own start is within 2 s. */
const FACTS = statement(
  'review-facts',
  `select e.id, e.site, e.panel, e.unit, e.kind, e.cause, e.certainty, e.start_earliest as "startEarliest",
     e.start_latest as "startLatest", e.end_latest as "end", e.body->'measures'->'residualPerUnit' as residual,
     e.kind = 'voltage-sag' and exists (
       select from events r where r.site = e.site and r.panel = e.panel and r.kind = 'compressor-run'
         and r.withdrawn_at is null and r.start_latest between e.start_earliest - interval '2 s' and e.start_latest + interval '2 s'
     ) as "atOwnStart"
   from events e
   where e.kind = any($1::text[]) and e.withdrawn_at is null
     and (e.cause is null or e.cause not in ('unit-only', 'in-service'))
     and ($2::text[] is null or e.site = any($2))
     and e.start_latest < $4 and e.start_latest >= $3::timestamptz - interval '31 days'
     and (e.end_latest is null or e.end_latest >= $3)
   order by e.start_latest desc, e.id limit $5`,
);

export interface FactQuery {
  readonly kinds: readonly SupplyKind[];
  /** null: of every site */
  readonly sites: readonly string[] | null;
  readonly from: Instant;
  readonly to: Instant;
  readonly limit: number;
}

/** Facts of the supply that touch a stretch, newest first. */
export async function readSupplyFacts(queries: Queries, asked: FactQuery): Promise<SupplyFact[]> {
  const rows = await queries.many<FactRow>(FACTS, [
    asked.kinds,
    asked.sites,
    timeParameter(asked.from),
    timeParameter(asked.to),
    asked.limit,
  ]);
  return rows.map(({ startEarliest, startLatest, residual, ...rest }) => ({
    ...rest,
    start: { earliest: startEarliest, latest: startLatest },
    residual: leastOf(residual),
  }));
}

function leastOf(residual: FactRow['residual']): number | null {
  if (typeof residual === 'number') return residual;
  return Array.isArray(residual) ? ((residual as readonly number[])[0] ?? null) : null;
}

/** Touching a stretch: begun up to three days before it; what still lasts, whenever it began. */
const TOUCHING = statement(
  'review-events',
  `select body as event from events
   where site = any($1::text[]) and withdrawn_at is null and kind = any($2::text[])
     and start_latest >= $3::timestamptz - interval '3 days' and start_earliest < $4
     and (end_latest is null or end_latest >= $3)
   union all
   select e.body from subjects s join events e on e.subject_id = s.id
   where s.site = any($1::text[]) and e.end_latest is null and e.withdrawn_at is null and e.kind = any($2::text[])
     and e.start_latest < $3::timestamptz - interval '3 days'
   limit $5`,
);

export interface TouchingQuery {
  readonly sites: readonly string[];
  readonly kinds: readonly string[];
  readonly from: Instant;
  readonly to: Instant;
  readonly limit: number;
}

export const readTouching = async (queries: Queries, asked: TouchingQuery): Promise<EventDraft[]> =>
  (
    await queries.many<{ event: EventDraft }>(TOUCHING, [
      asked.sites,
      asked.kinds,
      timeParameter(asked.from),
      timeParameter(asked.to),
      asked.limit,
    ])
  ).map(({ event }) => event);

/** A stretch of claimed time of one point under one scale. */
export interface ScaledPiece {
  readonly pointId: number;
  readonly from: Instant;
  readonly before: Instant;
  readonly scale: number;
  readonly offset: number;
  readonly range: readonly [number, number];
}

const HIGHEST = statement(
  'review-highest',
  `select p.place::int as place, s.t, s.v as value
   from unnest($1::int4[], $2::timestamptz[], $3::timestamptz[], $4::float8[], $5::float8[], $6::float8[], $7::float8[])
     with ordinality as p(point_id, a, b, scale, plus, low, high, place),
     lateral (
       select t, value * p.scale + p.plus as v from samples
       where point_id = p.point_id and t >= p.a and t < p.b and quality & 3 = 0
         and value * p.scale + p.plus between p.low and p.high
       order by v desc, t limit 1
     ) s`,
);

/** The highest good value of each piece that has one; `place` counts the pieces from 0. */
export async function readHighest(
  queries: Queries,
  pieces: readonly ScaledPiece[],
): Promise<{ readonly place: number; readonly t: Instant; readonly value: number }[]> {
  const rows = await queries.many<{ place: number; t: Instant; value: number }>(HIGHEST, [
    pieces.map(({ pointId }) => pointId),
    pieces.map(({ from }) => timeParameter(from)),
    pieces.map(({ before }) => timeParameter(before)),
    pieces.map(({ scale }) => scale),
    pieces.map(({ offset }) => offset),
    pieces.map(({ range }) => range[0]),
    pieces.map(({ range }) => range[1]),
  ]);
  return rows.map((row) => ({ ...row, place: row.place - 1 }));
}

const KNOWN = statement(
  'review-known',
  `select s.site, s.kind, s.device, st.known_through as "knownThrough",
     (st.standing->'gateway'->>'silentSince')::float8 as "silentSince"
   from subjects s join subject_states st on st.subject_id = s.id
   where s.kind in ('unit', 'gateway') and ($1::text[] is null or s.site = any($1))`,
);

/** Through when units are known, and since when gateways are silent. */
export interface KnownRow {
  readonly site: string;
  readonly kind: 'unit' | 'gateway';
  readonly device: string;
  readonly knownThrough: Instant | null;
  readonly silentSince: Instant | null;
}

export const readKnownRows = (queries: Queries, sites: readonly string[] | null): Promise<KnownRow[]> =>
  queries.many<KnownRow>(KNOWN, [sites]);

const SILENCES = statement(
  'review-silences',
  `select site, body->>'gateway' as gateway, start_latest as "from", end_latest as "to" from events
   where kind = 'telemetry-gap' and cause = 'gateway-silent' and withdrawn_at is null
     and ($1::text[] is null or site = any($1))
     and start_latest < $3 and start_latest >= $2::timestamptz - interval '31 days'
     and (end_latest is null or end_latest > $2)
   order by start_latest limit 10000`,
);

export const readSilences = (
  queries: Queries,
  sites: readonly string[] | null,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Promise<{ site: string; gateway: string; from: Instant; to: Instant | null }[]> =>
  queries.many(SILENCES, [sites, timeParameter(from), timeParameter(to)]);

const DIPS = statement(
  'review-dips',
  `select body as event from events
   where site = $1 and panel = any($2::text[]) and kind in ('voltage-sag', 'interruption') and withdrawn_at is null
     and start_latest < $3 and start_latest >= $3::timestamptz - interval '366 days' and end_latest is not null
     and body->'measures'->'residualPerUnit' is not null
   order by start_latest desc limit $4`,
);

/** Dips and interruptions of some panels in the year before an instant, newest first. */
export const readDips = async (
  queries: Queries,
  asked: {
    readonly site: string;
    readonly panels: readonly string[];
    readonly before: Instant;
    readonly limit: number;
  },
): Promise<EventDraft[]> =>
  (
    await queries.many<{ event: EventDraft }>(DIPS, [
      asked.site,
      asked.panels,
      timeParameter(asked.before),
      asked.limit,
    ])
  ).map(({ event }) => event);

const RUNS_AT = statement(
  'review-runs-at',
  `select d.place::int as place, e.body as event
   from unnest($2::timestamptz[], $3::timestamptz[]) with ordinality as d(a, b, place)
   join events e on e.site = $1 and e.kind = 'compressor-run' and e.withdrawn_at is null
     and e.start_latest > d.a - interval '1 day' and e.start_latest <= d.b
     and (e.end_latest is null or e.end_latest >= d.a)
   limit 20000`,
);

/** Runs of a site that touch each of some stretches; `place` counts the stretches from 0. */
export async function readRunsAt(
  queries: Queries,
  site: string,
  stretches: readonly { readonly from: Instant; readonly to: Instant }[],
): Promise<{ readonly place: number; readonly event: EventDraft }[]> {
  const rows = await queries.many<{ place: number; event: EventDraft }>(RUNS_AT, [
    site,
    stretches.map(({ from }) => timeOrNull(from)),
    stretches.map(({ to }) => timeOrNull(to)),
  ]);
  return rows.map(({ place, event }) => ({ place: place - 1, event }));
}
