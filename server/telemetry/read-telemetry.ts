import {
  readLateness,
  readOpenGaps,
  readPointTelemetry,
  readSetAside,
  type LatenessRow,
  type OpenGap,
  type SetAsideRow,
} from '../../db/read-telemetry.ts';
import { readClaimedClocks } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readNewest } from '../../db/read-samples.ts';
import { readLastHeard } from '../../db/read-service.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { REJECT_REASONS, type RejectReason } from '../../shared/telemetry/reject-reasons.ts';
import { siteAt, type Point, type Site } from '../../shared/telemetry/site.ts';
import { isWell, telemetrySentence, type TelemetryFacts } from '../../shared/wire/telemetry-sentences.ts';
import type {
  GatewayTelemetry,
  SetAsideReason,
  TelemetryAnswer,
  TelemetryState,
} from '../../shared/wire/telemetry.ts';
import type { Setup } from '../follow/setup.ts';
import { correctClocks } from '../follow/clocks.ts';
import { allPoints } from '../series/pieces.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { gatewayTelemetry } from './gateway-telemetry.ts';
import { payloadAnswer } from './payload-answer.ts';
import { isOdd, pointTelemetry, type PointFacts } from './point-telemetry.ts';

/** How telemetry comes in, of one site or of all that somebody may see; read when somebody asks. */
const DAY = seconds(86_400);
const RECENT = seconds(600);
/** what comes now tells whether a gateway has caught up */
const NEWEST = seconds(120);
/** points that are looked at one by one where only the odd ones are asked for */
const ODD_LOOKED_AT = 2_000;

export interface SiteAsked {
  readonly site: string;
  readonly state: TelemetryState | null;
  /** what the point's name holds */
  readonly holds: string;
  /** points that were given before */
  readonly skip: number;
  readonly limit: number;
}

/** null: there is no such site. */
export function readSiteTelemetry(service: Service, asked: SiteAsked): Promise<TelemetryAnswer | null> {
  return inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, asked.site);
    if (!setup) return null;
    const now = service.now();
    const look = await lookAt(service, queries, [setup], now);
    const facts = await pointFacts(queries, setup, look, now);
    const setAside = await readSetAside(queries, now - DAY, [`${service.telemetryRoot}/${setup.id}`]);
    const { items, more } = await pageOf(queries, setup, facts, asked);
    const counts = countsOf(facts);
    const gateways = gatewaysOf(setup, look, now);
    const aside = setAsideAnswer(setAside);
    return {
      serverTime: formatInstant(now),
      says: telemetrySentence(sentenceFacts(counts, gateways, aside)),
      counts,
      site: siteOf(setup, now),
      sites: [],
      gateways,
      setAside: aside,
      items,
      cursor: more ? String(asked.skip + items.length) : null,
    };
  });
}

/** `only`: the sites that may be told of; null: all. */
export function readAllTelemetry(
  service: Service,
  {
    after,
    limit,
    only,
  }: { readonly after: string; readonly limit: number; readonly only: readonly string[] | null },
): Promise<TelemetryAnswer> {
  return inSnapshot(service.database, async (queries) => {
    const now = service.now();
    const found = await service.setups.readMany(queries, after, limit + 1, only);
    const setups = found.slice(0, limit);
    const look = await lookAt(service, queries, setups, now);
    const below = only?.map((site) => `${service.telemetryRoot}/${site}`) ?? null;
    const aside = setAsideAnswer(await readSetAside(queries, now - DAY, below));
    const gateways = setups.flatMap((setup) => gatewaysOf(setup, look, now));
    const sites = setups.map((setup) => {
      const counts = countsOf(silences(setup, look, now));
      const own = gateways.filter(({ site }) => site === setup.id);
      const facts = sentenceFacts(counts, own, { count: 0, topics: 0 });
      const { name } = siteAt(setup.history, now)!;
      return { id: setup.id, name, says: telemetrySentence(facts), isWell: isWell(facts), ...counts };
    });
    const counts = sites.reduce(
      (sum, { points, silent, never }) => ({
        points: sum.points + points,
        silent: sum.silent + silent,
        never: sum.never + never,
      }),
      { points: 0, silent: 0, never: 0 },
    );
    return {
      serverTime: formatInstant(now),
      says: telemetrySentence(sentenceFacts(counts, gateways, aside)),
      counts,
      site: null,
      sites,
      gateways,
      setAside: aside,
      items: [],
      cursor: found.length > limit ? setups.at(-1)!.id : null,
    };
  });
}

function siteOf({ id, history }: Setup, now: Instant): TelemetryAnswer['site'] {
  const { name, timeZone } = siteAt(history, now)!;
  return { id, name, timeZone };
}

interface Look {
  readonly gaps: readonly OpenGap[];
  readonly lateness: readonly LatenessRow[];
  readonly lives: readonly { readonly site: string; readonly gateway: string; readonly t: Instant }[];
}

async function lookAt(
  service: Service,
  queries: Queries,
  setups: readonly Setup[],
  now: Instant,
): Promise<Look> {
  const sites = setups.map(({ id }) => id);
  const clocks = correctClocks(await readClaimedClocks(queries), service.setups.known);
  return {
    gaps: await readOpenGaps(queries, sites),
    lateness: await readLateness(queries, sites, {
      ...{ day: now - DAY, recent: now - RECENT, newest: now - NEWEST },
    }),
    lives: clocks.lives,
  };
}

function gatewaysOf(setup: Setup, { gaps, lateness, lives }: Look, now: Instant): GatewayTelemetry[] {
  return siteAt(setup.history, now)!.gateways.map(({ id }) => {
    const isOf = (row: { readonly site: string; readonly gateway: string | null }) =>
      row.site === setup.id && row.gateway === id;
    return gatewayTelemetry(setup, id, {
      gap: gaps.find((gap) => gap.point === null && isOf(gap)),
      late: lateness.find(isOf),
      life: lives.find(isOf),
      now,
    });
  });
}

/** Who is silent, as inference has it: the point itself, or its gateway. */
function silences(setup: Setup, { gaps }: Look, now: Instant): PointFacts[] {
  const own = gaps.filter(({ site }) => site === setup.id);
  const points = new Map(own.flatMap(({ point, since }) => (point === null ? [] : [[point, since]])));
  const gateways = new Map(
    own.flatMap(({ point, gateway, since }) =>
      point === null && gateway !== null ? [[gateway, since]] : [],
    ),
  );
  return pointsOf(siteAt(setup.history, now)!).map((point) => {
    const since = points.get(`${point.device}/${point.signal}`) ?? gateways.get(point.gateway) ?? null;
    return { point, silentSince: since, isNever: false };
  });
}

/** One that several units share is one. */
const pointsOf = (site: Site): Point[] => [
  ...new Map(allPoints(site).map((point) => [`${point.device}/${point.signal}`, point])).values(),
];

/** The same, and who was never heard. */
async function pointFacts(queries: Queries, setup: Setup, look: Look, now: Instant): Promise<PointFacts[]> {
  const facts = silences(setup, look, now);
  const ids = facts.flatMap(({ point }) => idOf(setup, point) ?? []);
  const heard = new Set((await readNewest(queries, ids)).map(({ pointId }) => pointId));
  const waited = new Set((await readLastHeard(queries, ids)).map(({ pointId }) => pointId));
  return facts.map((one) => {
    const id = idOf(setup, one.point);
    const isNever = id === null || (!heard.has(id) && !waited.has(id));
    return { ...one, isNever };
  });
}

const idOf = (setup: Setup, { device, signal }: Pick<Point, 'device' | 'signal'>): number | null =>
  setup.ids.points.get(`${device}/${signal}`) ?? null;

async function pageOf(queries: Queries, setup: Setup, facts: readonly PointFacts[], asked: SiteAsked) {
  const { state, holds, skip, limit } = asked;
  const named = facts.filter(({ point }) => `${point.device}/${point.signal}`.includes(holds.toLowerCase()));
  const read = async (some: readonly PointFacts[]) => {
    const ids = some.flatMap(({ point }) => idOf(setup, point) ?? []);
    const rows = new Map((await readPointTelemetry(queries, ids)).map((row) => [row.pointId, row]));
    const waited = new Map((await readLastHeard(queries, ids)).map((row) => [row.pointId, row]));
    return some.map((one) => {
      const id = idOf(setup, one.point);
      return pointTelemetry(
        setup,
        one,
        id === null ? undefined : rows.get(id),
        id === null ? undefined : waited.get(id),
      );
    });
  };
  if (state === 'odd') {
    const odd = (await read(named.slice(0, ODD_LOOKED_AT))).filter(isOdd);
    return { items: odd.slice(skip, skip + limit), more: odd.length > skip + limit };
  }
  const wanted = named.filter(
    ({ silentSince, isNever }) =>
      state === null || (state === 'never' ? isNever : silentSince !== null && !isNever),
  );
  return { items: await read(wanted.slice(skip, skip + limit)), more: wanted.length > skip + limit };
}

const countsOf = (facts: readonly PointFacts[]) => ({
  points: facts.length,
  silent: facts.filter(({ silentSince, isNever }) => silentSince !== null && !isNever).length,
  never: facts.filter(({ isNever }) => isNever).length,
});

const sentenceFacts = (
  counts: TelemetryAnswer['counts'],
  gateways: readonly GatewayTelemetry[],
  setAside: TelemetryFacts['setAside'],
): TelemetryFacts => ({
  ...counts,
  gateways: gateways.map(({ id, silentSince, behindSeconds, isCatchingUp }) => ({
    ...{ id, behindSeconds, isCatchingUp },
    isSilent: silentSince !== null,
  })),
  setAside,
});

function setAsideAnswer({ reasons, topics }: { reasons: readonly SetAsideRow[]; topics: number }) {
  return {
    count: reasons.reduce((sum, { count }) => sum + count, 0),
    topics,
    reasons: reasons.map(reasonAnswer),
  };
}

function reasonAnswer(row: SetAsideRow): SetAsideReason {
  const { reason, count, topics, t, topic, detail } = row;
  const words = Object.hasOwn(REJECT_REASONS, reason) ? REJECT_REASONS[reason as RejectReason] : null;
  return {
    ...{ reason, count, topics },
    says: words?.says ?? reason.replaceAll('-', ' '),
    todo: words?.todo ?? '',
    newest: { t: formatInstant(t), topic, detail, ...payloadAnswer(row) },
  };
}
