import { readAlarm, readAlarms } from '../../db/read-alarms.ts';
import { readEvent } from '../../db/read-events.ts';
import type { Queries } from '../../db/pool.ts';
import { readFindings, readVisited } from '../../db/visits.ts';
import { SECOND, type Instant } from '../../shared/base/instant.ts';
import type { Alarm } from '../../shared/alarms/alarm.ts';
import { ALARM_RULES } from '../../shared/alarms/rules.ts';
import { clockText } from '../../shared/people/wall-time.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import type { SpaceCooling } from '../../shared/wire/cooling-answer.ts';
import type { EventFacts } from '../../shared/wire/event-sentences.ts';
import { coolingLines, needsByOf } from '../../shared/wire/needs-by.ts';
import type { Named } from '../../shared/wire/notice-facts.ts';
import type { Service } from '../service.ts';
import { readSpaces } from '../status/read-cooling.ts';
import type { RootFacts } from './take-escalation.ts';

/** What there is to say about a root, as it stands now: its event, its site's names, what it means for cooling. */
export async function readRootFacts(
  queries: Queries,
  service: Pick<Service, 'setups' | 'now'>,
  id: string,
): Promise<RootFacts | null> {
  const kept = await readAlarm(queries, id);
  if (kept === null) return null;
  const { alarm } = kept;
  const setup = await service.setups.read(queries, alarm.site);
  const site = setup && siteAt(setup.history, service.now());
  if (!setup || !site) return null;
  const touched = touchedSpaces(alarm, site);
  const spaces = (await readSpaces(queries, site)).filter((space) => touched.has(space.id));
  const clock = (instant: number) => clockText(instant, site.timeZone);
  return {
    site: { id: site.id, name: site.name || site.id },
    device: deviceOf(alarm, site),
    zone: site.timeZone,
    event: await eventOf(queries, alarm),
    needsBy: needsByOf(spaces, clock),
    cooling: coolingLines(spaces, clock),
    others: othersOf(alarm, site, spaces),
    repaired: await repairedLines(queries, alarm, clock),
    explains: await explainedBy(queries, alarm, site),
  };
}

/** The newest event that it leans on; the alarm's own words where that has gone meanwhile. */
async function eventOf(queries: Queries, alarm: Alarm): Promise<EventFacts> {
  const newest = alarm.events.at(-1);
  const found = newest === undefined ? null : await readEvent(queries, newest);
  const { kind } = ALARM_RULES[alarm.rule].from;
  if (found && found.event.kind === kind) return found.event;
  const { cause, certainty, causeCertainty, since, end, members } = alarm;
  return { kind, cause, certainty, causeCertainty, pending: [], start: since, end, members, measures: {} };
}

/** The spaces whose cooling it may be about: its own, else those of its units, else all of the site. */
function touchedSpaces({ subject, members }: Alarm, site: Site): Set<string> {
  if (subject.space !== null) return new Set([subject.space]);
  const units = site.units.filter(
    ({ id, panel }) =>
      id === subject.unit || members.includes(id) || (subject.kind === 'panel' && panel === subject.device),
  );
  const all = site.spaces.map(({ id }) => id);
  return new Set(units.length > 0 ? units.flatMap(({ space }) => (space === null ? [] : [space])) : all);
}

function deviceOf({ subject: { kind, device } }: Alarm, site: Site): Named | null {
  const named = (list: readonly { readonly id: string; readonly name: string }[], id: string): Named => ({
    id,
    name: list.find((one) => one.id === id)?.name || id,
  });
  switch (kind) {
    case 'site':
      return null;
    case 'unit':
      return named(site.units, device);
    case 'space':
      return named(site.spaces, device);
    case 'panel':
      return named(site.panels, device);
    case 'gateway':
    case 'point':
      return { id: device, name: device };
  }
}

/** Units of the same room that can run. */
function othersOf({ subject }: Alarm, site: Site, spaces: readonly SpaceCooling[]): string[] {
  if (subject.kind !== 'unit') return [];
  return spaces
    .flatMap(({ units, unable }) => units.filter((unit) => unit !== subject.device && !unable.includes(unit)))
    .map((unit) => site.units.find(({ id }) => id === unit)?.name || unit);
}

const A_DAY = 86_400 * SECOND;

/** The newest visit to its unit that a person closed within the week before (handbook 8: paged with this visit attached). */
async function repairedLines(
  queries: Queries,
  { site, subject, raisedAt }: Alarm,
  clock: (at: Instant) => string,
): Promise<string[]> {
  if (subject.unit === null) return [];
  const visited = await readVisited(queries, { site, unit: subject.unit, before: raisedAt });
  const last = visited.find(({ closedAt }) => closedAt !== null && raisedAt - closedAt <= 7 * A_DAY);
  if (!last) return [];
  const days = Math.floor((raisedAt - last.closedAt!) / A_DAY);
  const when =
    days === 0
      ? `at ${clock(last.closedAt!)}, within the day before`
      : `${days} ${days === 1 ? 'day' : 'days'} before`;
  const found = (await readFindings(queries, [last.alarm.id])).at(-1);
  return [`Closed ${when}${found ? ` by ${found.by}: ${found.body.action.replace(/\.$/, '')}` : ''}.`];
}

const EXPLAINED_SHOWN = 2_000;

async function explainedBy(queries: Queries, alarm: Alarm, site: Site): Promise<string[]> {
  const hidden = await readAlarms(queries, {
    sites: [alarm.site],
    states: ['H'],
    from: null,
    to: null,
    after: null,
    limit: EXPLAINED_SHOWN,
  });
  return hidden
    .filter(({ root }) => root === alarm.id)
    .map(({ alarm: one }) => deviceOf(one, site)?.name ?? site.name);
}
