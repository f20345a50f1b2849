import { readUndecided, saveOutcomes } from '../../db/alarm-commands.ts';
import {
  readAlarmEvents,
  readGone,
  readIsPending,
  readSiteAlarms,
  saveAlarms,
  takeAlarmWork,
  type StoredAlarms,
} from '../../db/alarms.ts';
import { readPosition } from '../../db/follow-times.ts';
import { announceInferred, readSiteClocks } from '../../db/follow-work.ts';
import type { Queries } from '../../db/pool.ts';
import { readRepairs } from '../../db/visits.ts';
import { readStandings, type StandingRow } from '../../db/read-status.ts';
import { decideAlarms } from '../../shared/alarms/decide.ts';
import type { Decision, Given } from '../../shared/alarms/given.ts';
import { REPAIR_WATCHED_SECONDS, repairOf, type Repair } from '../../shared/alarms/repair.ts';
import { LOOK_BACK, RULED_KINDS } from '../../shared/alarms/rules.ts';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { correctClocks, nowOf } from '../follow/clocks.ts';
import type { Setup, Setups } from '../follow/setup.ts';
import { followAlarms } from '../notify/follow-alarms.ts';
import { isInUse } from './in-use.ts';

/**
 * One step of one site's alarms, inside one transaction: its work items away, what stands and what was asked decided on,
 * everything that follows saved. A crash repeats it with the same outcome. Whoever calls holds the site's lock.
 */
const WORK_A_STEP = 2_000;
/** Control power is there from this on, V (handbook 4 rule 10). */
const POWERED_VOLTS = 5;

export async function decideSite(
  queries: Queries,
  siteId: string,
  { setups, now }: { readonly setups: Setups; readonly now: Instant },
): Promise<Decision | null> {
  const work = await takeAlarmWork(queries, siteId, WORK_A_STEP);
  const setup = await setups.read(queries, siteId);
  const site = setup && siteAt(setup.history, now);
  if (!setup || !site) return null;
  const stored = await readSiteAlarms(queries, siteId);
  const through = await readThrough(queries, setup, now);
  const added = work.flatMap(({ what, eventId }) => (what === 'added' && eventId !== null ? [eventId] : []));
  // what waited for its subject to catch up may be over by now
  const amended = work.flatMap(({ what, eventId }) =>
    what === 'amended' && eventId !== null ? [eventId] : [],
  );
  const named = stored.state.alarms.flatMap(({ events }) => events);
  const decision = decideAlarms(stored.state, {
    ...factsOf(await readStandings(queries, [siteId]), site, now),
    events: await readAlarmEvents(queries, siteId, {
      kinds: [...RULED_KINDS],
      back: Object.entries(LOOK_BACK).map(([kind, back]) => [kind, through - seconds(back)] as const),
      ids: [...new Set([...named, ...added, ...amended])],
    }),
    added,
    gone: await readGone(queries, named),
    commands: await readUndecided(queries, siteId),
    repairs: await readSiteRepairs(queries, siteId, now),
    now,
    through,
    pending: await readIsPending(queries, siteId),
    configuration: { site, tuning: stored.tuning },
  });
  await save(queries, stored, { site: siteId, decision, now });
  return decision;
}

interface Saved {
  readonly site: string;
  readonly decision: Decision;
  readonly now: Instant;
}

async function save(queries: Queries, stored: StoredAlarms, { site, decision, now }: Saved): Promise<void> {
  await saveAlarms(queries, site, stored.state, decision);
  await followAlarms(queries, decision.alarms, now);
  await saveOutcomes(queries, decision.outcomes);
  if (decision.changes.length + decision.tasks.length > 0) await announceInferred(queries);
}

/** What people have closed as mended of late, as events name it. */
async function readSiteRepairs(queries: Queries, site: string, now: Instant): Promise<Repair[]> {
  const closed = await readRepairs(queries, site, now - seconds(REPAIR_WATCHED_SECONDS));
  return closed.flatMap(({ alarm, closedAt }) => repairOf(alarm, closedAt));
}

/** Through when time is known to have passed at the site; where nothing was ever heard, until now. */
async function readThrough(queries: Queries, setup: Setup, now: Instant): Promise<Instant> {
  const clocks = correctClocks(await readSiteClocks(queries, setup.id), () => setup.history);
  return nowOf(clocks, setup.id) ?? now;
}

/** What the folds' standings tell beside the events. */
function factsOf(
  rows: readonly StandingRow[],
  site: Site,
  now: Instant,
): Pick<Given, 'known' | 'powered' | 'hotInUse'> {
  const powered = new Map<string, Instant>();
  const hotInUse = new Set<string>();
  for (const { device, standing, stopped } of rows) {
    const voltage = standing?.unit?.lastSeen['control-voltage'];
    if (voltage && voltage.value !== null && voltage.value >= POWERED_VOLTS && stopped === null)
      powered.set(device, voltage.t);
    const { temperature, temperatureLimit } = standing?.space ?? {
      temperature: null,
      temperatureLimit: null,
    };
    const isHot =
      temperature?.value != null && temperatureLimit !== null && temperature.value > temperatureLimit;
    const space = site.spaces.find(({ id }) => id === device);
    if (isHot && space && isInUse(space.inUse, site.timeZone, now)) hotInUse.add(device);
  }
  const known = new Map(
    rows.map(({ kind, device, knownThrough, stopped }) => [
      `${kind}/${device}`,
      { through: knownThrough === null ? null : readPosition(knownThrough), stopped: stopped !== null },
    ]),
  );
  return { known, powered, hotInUse };
}
