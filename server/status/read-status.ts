import { groupedBy } from '../../shared/base/grouped.ts';
import { readBacklogs } from '../../db/follow-due.ts';
import { readClaimedClocks, type Clocks } from '../../db/follow-work.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { readOpenNow, readStandings, readStripEvents, type KeptEvent } from '../../db/read-status.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { wireEvent, wireInstant } from '../../shared/wire/standing-wire.ts';
import {
  OPEN_EVENTS_BOUND,
  type BoardAnswer,
  type BoardSite,
  type SiteStatus,
  type UnitStatus,
} from '../../shared/wire/status.ts';
import { STRIP_KINDS, stripOf, type StripEvent } from '../../shared/wire/strip.ts';
import { correctClocks } from '../follow/clocks.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import { rowKey, siteParts, type Rows } from './site-parts.ts';

/** What stands now, of one site or of all, read from one snapshot. */
const STRIP_SECONDS = 7200;
const STRIP_EVENTS_BOUND = 50_000;

export const inSnapshot = <T>(database: Database, work: (queries: Queries) => Promise<T>): Promise<T> =>
  database.transaction({ name: 'read', isolation: 'repeatable read', readOnly: true }, work);

export function readSiteStatus(service: Service, site: string): Promise<SiteStatus | null> {
  const revision = service.revisionOf(`site:${site}`);
  return inSnapshot(service.database, async (queries) => {
    const setup = await service.setups.read(queries, site);
    if (!setup) return null;
    const now = service.now();
    const [board] = await readBoardSites(queries, [setup], service, now);
    const document = setup.documents.findLast(({ from }) => from <= now)?.document as { address?: string };
    return {
      ...board!,
      address: document?.address ?? null,
      serverTime: wireInstant(now)!,
      epoch: service.epoch,
      revision,
    };
  });
}

export interface BoardQuery {
  readonly after: string;
  readonly limit: number;
  /** null: every site */
  readonly only: readonly string[] | null;
}

export function readBoard(
  service: Service,
  { after, limit, only }: BoardQuery,
): Promise<Omit<BoardAnswer, 'cursor'>> {
  const revision = service.revisionOf('board');
  return inSnapshot(service.database, async (queries) => {
    const now = service.now();
    const setups = await service.setups.readMany(queries, after, limit, only);
    const sites = await readBoardSites(queries, setups, service, now);
    return { sites, serverTime: wireInstant(now)!, epoch: service.epoch, revision };
  });
}

async function readBoardSites(
  queries: Queries,
  setups: readonly Setup[],
  service: Service,
  now: Instant,
): Promise<BoardSite[]> {
  const ids = setups.map(({ id }) => id);
  const clocks = correctClocks(await readClaimedClocks(queries), service.setups.known);
  const pending = await readBacklogs(queries, clocks);
  const standings = groupedBy(await readStandings(queries, ids), ({ site }) => site);
  const open = groupedBy(await readOpenNow(queries, ids, OPEN_EVENTS_BOUND), ({ event }) => event.site);
  const window = { from: now - seconds(STRIP_SECONDS), to: now };
  const asked = { sites: ids, kinds: STRIP_KINDS, ...window, limit: STRIP_EVENTS_BOUND };
  const strips = groupedBy(await readStripEvents(queries, asked), ({ site, unit }) => `${site}/${unit}`);
  return setups.map((setup) => {
    const site = siteAt(setup.history, now)!;
    const rows: Rows = new Map(standings.get(setup.id)?.map((row) => [rowKey(row), row]));
    const parts = siteParts(site, rows, { clocks, pending: pending.get(setup.id) ?? 0 });
    const units = parts.units.map((unit) =>
      withStrip(site, unit, strips.get(`${setup.id}/${unit.id}`) ?? [], windowFor(clocks, setup.id, window)),
    );
    return {
      ...parts,
      units,
      name: site.name,
      timeZone: site.timeZone,
      openEvents: (open.get(setup.id) ?? []).map(answerOf),
    };
  });
}

/** A strip ends where the data do: what came after isn't "ready" but unknown. */
function windowFor(clocks: Clocks, site: string, window: { from: Instant; to: Instant }) {
  const lives = clocks.lives.filter((life) => life.site === site).map(({ t }) => t);
  const heard = lives.reduce((a, b) => Math.max(a, b), -Infinity);
  return { ...window, heard: Math.min(window.to, Math.max(window.from, heard)) };
}

function withStrip(
  site: Site,
  unit: UnitStatus,
  events: readonly (StripEvent | (Omit<StripEvent, 'kind'> & { kind: string }))[],
  { from, to, heard }: { from: Instant; to: Instant; heard: Instant },
): UnitStatus {
  const { protection } = site.units.find(({ id }) => id === unit.id)!;
  const offDelaySeconds = protection.offDelay.value;
  const powerUpDelaySeconds = protection.powerUpBase.value + protection.powerUpShare.value * offDelaySeconds;
  const strip = stripOf(
    events as readonly StripEvent[],
    { offDelaySeconds, powerUpDelaySeconds },
    { from, to: heard },
  );
  const unheard =
    to > heard
      ? [
          {
            phase: 'not-known' as const,
            start: (heard - from) / 1e6,
            end: (to - from) / 1e6,
            certainty: 'certain' as const,
            event: null,
          },
        ]
      : [];
  return { ...unit, strip: { ...strip, to: wireInstant(to)!, phases: [...strip.phases, ...unheard] } };
}

export const answerOf = (kept: KeptEvent) => wireEvent(kept.event, kept);
