import { groupedBy } from '../../shared/base/grouped.ts';
import { readClaimedClocks } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import {
  readHighest,
  readKnownRows,
  readSilences,
  readTouching,
  type KnownRow,
} from '../../db/read-review.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import type { EventDraft, EventKind } from '../../shared/inference/event.ts';
import { completenessOf, type Completeness, type GatewayWord } from '../../shared/review/completeness.ts';
import type { PowerEvent } from '../../shared/review/group.ts';
import type { Reading } from '../../shared/review/rooms.ts';
import { siteReview, type SiteReview } from '../../shared/review/site-review.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { correctClocks, lifeOf } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import { piecesOf } from '../series/pieces.ts';

/** Reviews of some sites of one power event, from four questions to the database however many they are. */
const REVIEW_KINDS: readonly EventKind[] = [
  'compressor-run',
  'power-loss',
  'interruption',
  'voltage-sag',
  'voltage-swell',
  'generator-supply',
  'restart-sequence',
  'simultaneous-start',
  'hard-lockout',
  'soft-lockout',
  'undervoltage-hold',
  'failed-start',
  'telemetry-gap',
];
const EVENTS_BOUND = 60_000;
const BEFORE = seconds(300);
/** what comes within an hour of the last restart is looked at too */
const AFTER = seconds(3600);
/** a power event that has no end yet is reviewed for so long */
const LONGEST = seconds(7 * 86_400);

export interface Reviewed {
  readonly setup: Setup;
  readonly site: Site;
  readonly review: SiteReview;
  readonly events: readonly EventDraft[];
}

/** The end of what is reviewed: an hour after the last restart, or now. */
export const reviewUntil = (event: PowerEvent, now: Instant): Instant =>
  Math.min(now, (event.settled ?? event.start.latest + LONGEST) + AFTER);

export async function reviewSites(
  queries: Queries,
  event: PowerEvent,
  setups: readonly Setup[],
  now: Instant,
): Promise<Reviewed[]> {
  const until = reviewUntil(event, now);
  const from = event.start.earliest - BEFORE;
  const sites = setups.map(({ id }) => id);
  const asked = { sites, kinds: REVIEW_KINDS, from, to: until, limit: EVENTS_BOUND };
  const events = groupedBy(await readTouching(queries, asked), ({ site }) => site);
  const known = groupedBy(await readKnownRows(queries, sites), ({ site }) => site);
  const settings = new Map(setups.map((setup) => [setup.id, siteAt(setup.history, event.start.latest)!]));
  const highest = await readHighestOf(queries, setups, settings, { from: event.start.earliest, to: until });
  return setups.flatMap((setup) => {
    const share = event.sites.find(({ site }) => site === setup.id);
    if (!share) return [];
    const own = events.get(setup.id) ?? [];
    const site = settings.get(setup.id)!;
    const review = siteReview({
      site,
      share,
      events: own,
      highest: highest.get(setup.id) ?? new Map<string, Reading>(),
      knownThrough: new Map((known.get(setup.id) ?? []).map((row) => [row.device, row.knownThrough])),
      until,
    });
    return [{ setup, site, review, events: own }];
  });
}

/** The highest temperature of each room, by site and space. */
async function readHighestOf(
  queries: Queries,
  setups: readonly Setup[],
  settings: ReadonlyMap<string, Site>,
  stretch: { readonly from: Instant; readonly to: Instant },
): Promise<Map<string, Map<string, Reading>>> {
  const asked = setups.flatMap((setup) =>
    settings.get(setup.id)!.spaces.flatMap((space) =>
      space.points
        .filter(({ signal }) => signal === 'space-temperature')
        .flatMap((point) => {
          const pointId = setup.ids.points.get(`${point.device}/${point.signal}`);
          if (pointId === undefined) return [];
          return piecesOf(setup.history, point, stretch).map((piece) => ({
            site: setup.id,
            space: space.id,
            by: piece.by,
            piece: { pointId, from: piece.from, before: piece.before, ...scaleOf(piece.point) },
          }));
        }),
    ),
  );
  const found = new Map<string, Map<string, Reading>>();
  for (const { place, t, value } of await readHighest(
    queries,
    asked.map(({ piece }) => piece),
  )) {
    const { site, space, by } = asked[place]!;
    const rooms = found.get(site) ?? new Map<string, Reading>();
    found.set(site, rooms);
    if (value > (rooms.get(space)?.value ?? -Infinity)) rooms.set(space, { value, t: t + by });
  }
  return found;
}

const scaleOf = ({ scale, offset, range }: Site['points'][number]) => ({ scale, offset, range });

/** What isn't known yet of a power event, over all sites that the reader may see. */
export async function readCompleteness(
  queries: Queries,
  setups: readonly Setup[],
  event: PowerEvent,
  now: Instant,
): Promise<Completeness> {
  const histories = new Map(setups.map((setup) => [setup.id, setup.history]));
  const clocks = correctClocks(await readClaimedClocks(queries), (site) => histories.get(site) ?? null);
  const sites = setups.map(({ id }) => id);
  const rows = new Map((await readKnownRows(queries, sites)).map((row) => [keyOf(row), row]));
  const words: (GatewayWord & { promised: boolean })[] = setups.flatMap(({ id, history }) =>
    (siteAt(history, event.start.latest)?.gateways ?? []).map((gateway) => ({
      site: id,
      gateway: gateway.id,
      lastLife: lifeOf(clocks, id, gateway.id),
      silentSince: rows.get(keyOf({ site: id, kind: 'gateway', device: gateway.id }))?.silentSince ?? null,
      promised: gateway.heartbeatSeconds !== null,
    })),
  );
  const from = event.start.earliest;
  const wanted = Math.min(now, event.settled ?? now);
  const silences = await readSilences(queries, sites, { from, to: wanted });
  const told = completenessOf(words, silences, { from, through: wanted });
  const lacking = new Set(told.missing.map((one) => `${one.site}/${one.gateway}`));
  const lives = words
    .filter((word) => word.promised && !lacking.has(`${word.site}/${word.gateway}`))
    .map(({ lastLife }) => lastLife!);
  return { ...told, through: lives.reduce((a, b) => Math.min(a, b), wanted) };
}

const keyOf = ({ site, kind, device }: Pick<KnownRow, 'site' | 'kind' | 'device'>): string =>
  `${site}/${kind}/${device}`;
