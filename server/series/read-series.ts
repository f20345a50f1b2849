import { readClaimedClocks } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readEvents } from '../../db/read-events.ts';
import { readNewest } from '../../db/read-samples.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { EventDraft } from '../../shared/inference/event.ts';
import { signalRow } from '../../shared/telemetry/signals.ts';
import type { Point, SiteHistory } from '../../shared/telemetry/site.ts';
import type { SeriesAnswer } from '../../shared/wire/series.ts';
import { correctClocks, lifeOf } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { readAnalog } from './analog.ts';
import { readContact } from './contact.ts';

export interface Stretch {
  readonly from: Instant;
  readonly to: Instant;
}

/** One point's series to be drawn. */
export interface Drawn {
  readonly history: SiteHistory;
  readonly point: Point;
  readonly pointId: number;
  readonly stretch: Stretch;
  /** pixels */
  readonly width: number;
  /** over these nothing is known: silence that inference has found */
  readonly unknown: readonly Stretch[];
  readonly knownThrough: Instant | null;
}

/** Series of several points of one site at drawn size, in the order asked. */
export async function readSeries(
  queries: Queries,
  setup: Setup,
  points: readonly Point[],
  stretch: Stretch,
  width: number,
): Promise<SeriesAnswer['series']> {
  const gaps = await readGaps(queries, setup.id, stretch);
  const known = await readKnown(queries, setup, points);
  const series: SeriesAnswer['series'] = [];
  for (const point of points) {
    const key = `${point.device}/${point.signal}`;
    const pointId = setup.ids.points.get(key);
    if (pointId === undefined) continue;
    const unknown = gaps.filter((gap) => covers(gap, point)).map((gap) => stretchOf(gap, stretch));
    const knownThrough = known(point, pointId);
    const drawn = { history: setup.history, point, pointId, stretch, width, unknown, knownThrough };
    const isContact = signalRow(point.signal).kind === 'contact';
    series.push(isContact ? await readContact(queries, drawn) : await readAnalog(queries, drawn));
  }
  return series;
}

const GAPS_BOUND = 2000;

async function readGaps(queries: Queries, site: string, { from, to }: Stretch): Promise<EventDraft[]> {
  const kept = await readEvents(queries, {
    only: null,
    site,
    space: null,
    panel: null,
    unit: null,
    kinds: ['telemetry-gap'],
    from,
    to,
    after: null,
    limit: GAPS_BOUND,
  });
  return kept.map(({ event }) => event);
}

/** Does a gap leave this point unknown? Time that we didn't watch doesn't: its samples may have come all the same. */
function covers(gap: EventDraft, point: Point): boolean {
  if (gap.cause === 'gateway-silent') return gap.gateway === point.gateway;
  return (
    gap.cause === 'point-silent' &&
    (gap.point === `${point.device}/${point.signal}` ||
      (gap.point === point.signal && deviceOf(gap) === point.device))
  );
}

const deviceOf = (gap: EventDraft): string => gap.unit ?? gap.space ?? gap.panel ?? 'site';

const stretchOf = (gap: EventDraft, within: Stretch): Stretch => ({
  from: Math.max(within.from, gap.start.latest),
  to: Math.min(within.to, gap.end?.earliest ?? within.to),
});

/** Through when a point's last state is known to hold: its last poll, or its gateway's life less its resolution. */
export async function readKnown(queries: Queries, setup: Setup, points: readonly Point[]) {
  const clocks = correctClocks(await readClaimedClocks(queries), () => setup.history);
  const ids = points.flatMap(({ device, signal }) => setup.ids.points.get(`${device}/${signal}`) ?? []);
  const newest = new Map((await readNewest(queries, ids)).map(({ pointId, t }) => [pointId, t]));
  return (point: Point, pointId: number): Instant | null => {
    const last = newest.get(pointId) ?? null;
    if (point.reporting.mode === 'polled' || last === null) return last;
    return lifeOf(clocks, setup.id, point.gateway) ?? last;
  };
}
