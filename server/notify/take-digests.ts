import { readUsableChannels } from '../../db/channels.ts';
import {
  claimDigest,
  readDigestAlarms,
  readDigestCounts,
  readDigestPeople,
  type DigestAlarm,
  type DigestPerson,
} from '../../db/digests.ts';
import { announceNotices } from '../../db/escalations.ts';
import { addDelivery, type MessageBody } from '../../db/notices.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { isActive } from '../../shared/alarms/life.ts';
import { formatInstant, SECOND, type Instant } from '../../shared/base/instant.ts';
import { dueDigest, USUAL_DIGEST, type DigestSettings, type DueDigest } from '../../shared/people/digest.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import { alarmTitle } from '../../shared/wire/alarm-sentences.ts';
import { subjectName } from '../../shared/wire/alarm-wire.ts';
import { digestText, isQuiet, type DigestFacts, type DigestLine } from '../../shared/wire/digest-text.ts';
import type { Setups } from '../follow/setup.ts';

/**
 * Makes the digests that are due: the row of the day and its messages in one transaction, so that of several servers, and
 * through any restart, one makes it. Sent as every other message is (deliver.ts).
 */
export interface DigestMeans {
  readonly database: Database;
  readonly setups: Setups;
  readonly now: () => Instant;
  /** ending in a slash */
  readonly publicUrl: string;
}

const LONGEST_LOOK = 7 * 24 * 3600 * SECOND;
const ORDINARY_LOOK = 24 * 3600 * SECOND;
/** a morning's may be made six hours late: the next is due 17 h behind it at the earliest */
const NOT_BEFORE = 16 * 3600 * SECOND;
const CARRIES = new Set(['e-mail', 'webhook']);

/** How many were made, those with nothing to say not counted. */
export async function takeDigests(means: DigestMeans): Promise<number> {
  const people = await readDigestPeople(means.database);
  let made = 0;
  for (const person of people) {
    if (person.lastAt !== null && means.now() - person.lastAt < NOT_BEFORE) continue;
    const settings = person.settings ?? (await usualFor(means, person));
    const due = dueDigest(settings, person.lastDay, means.now());
    if (due !== null && (await makeOne(means, { person, settings, due }))) made++;
  }
  return made;
}

/** Where nobody has said otherwise: 07:00 in the zone of the first site in scope. */
export async function usualFor(
  { database, setups, now }: Pick<DigestMeans, 'database' | 'setups' | 'now'>,
  { sites }: Pick<DigestPerson, 'sites'>,
): Promise<DigestSettings> {
  const [setup] = await database.transaction({ name: 'digest-zone', readOnly: true }, (queries) =>
    setups.readMany(queries, '', 1, sites),
  );
  const site = setup && siteAt(setup.history, now());
  return { ...USUAL_DIGEST, zone: site?.timeZone ?? 'UTC' };
}

interface One {
  readonly person: DigestPerson;
  readonly settings: DigestSettings;
  readonly due: DueDigest;
}

function makeOne(means: DigestMeans, { person, settings, due }: One): Promise<boolean> {
  return means.database.transaction({ name: 'digest' }, async (queries) => {
    const now = means.now();
    const facts = await readFacts(queries, means, { person, settings, due });
    const isNothing = due.isLate || (isQuiet(facts) && !due.isWeekly);
    const kind = isNothing ? 'nothing' : due.isWeekly ? 'weekly' : 'daily';
    const claimed = await claimDigest(queries, { person: person.person, day: due.day, kind }, now);
    if (!claimed || isNothing) return false;
    const channels = await readUsableChannels(queries, [person.person]);
    const body = bodyOf(facts, due.day);
    for (const { id } of channels.filter((channel) => CARRIES.has(channel.kind)))
      await addDelivery(
        queries,
        { notice: null, channel: id, message: `digest:${due.day}`, reason: 'digest', body },
        now,
      );
    await announceNotices(queries);
    return true;
  });
}

async function readFacts(
  queries: Queries,
  means: DigestMeans,
  { person, settings, due }: One,
): Promise<DigestFacts> {
  const now = means.now();
  const since = Math.max(now - LONGEST_LOOK, person.lastAt ?? now - ORDINARY_LOOK);
  const found = await readDigestAlarms(queries, person.sites, since);
  const sites = await sitesOf(queries, means, found);
  const line = (one: DigestAlarm): DigestLine => lineOf(one, sites.get(one.alarm.site) ?? null);
  const open = found.filter(({ state }) => state !== 'A');
  const isTaken = ({ state }: DigestAlarm): boolean => state === 'C' || state === 'F';
  const isYours = (one: DigestAlarm): boolean => {
    const { ownerId, owner } = one.alarm;
    return isTaken(one) && (ownerId == null ? owner === person.name : ownerId === person.person);
  };
  return {
    ...(await readDigestCounts(queries, person.sites)),
    isWeekly: due.isWeekly,
    now,
    since,
    zone: settings.zone,
    waiting: open.filter((one) => !isTaken(one)).map(line),
    yours: open.filter(isYours).map(line),
    others: open.filter((one) => isTaken(one) && !isYours(one)).map(line),
    over: found.filter(({ state }) => state === 'A').map((one) => ({ ...line(one), owner: null })),
    url: `${means.publicUrl}alarms`,
  };
}

async function sitesOf(queries: Queries, { setups, now }: DigestMeans, found: readonly DigestAlarm[]) {
  const sites = new Map<string, Site | null>();
  for (const { alarm } of found) {
    if (sites.has(alarm.site)) continue;
    const setup = await setups.read(queries, alarm.site);
    sites.set(alarm.site, setup && siteAt(setup.history, now()));
  }
  return sites;
}

function lineOf({ alarm, held }: DigestAlarm, site: Site | null): DigestLine {
  const { life, subject, owner } = alarm;
  const title = alarmTitle({ ...alarm, active: isActive(life), latched: life.latched });
  return {
    severity: life.severity,
    site: site?.name || alarm.site,
    says: `${subjectName(subject, site)}: ${title}${held ? '; held back by night' : ''}`,
    since: alarm.since.latest,
    owner,
    zone: site?.timeZone ?? 'UTC',
  };
}

function bodyOf(facts: DigestFacts, day: string): MessageBody {
  const { subject, text } = digestText(facts);
  const { waiting, yours, over, tasks, since, url } = facts;
  const counts = { waiting: waiting.length, yours: yours.length, over: over.length, tasks };
  return { subject, text, short: subject, data: { day, since: formatInstant(since), ...counts, url } };
}
