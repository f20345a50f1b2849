import type { Alarm } from '../shared/alarms/alarm.ts';
import type { Instant } from '../shared/base/instant.ts';
import type { DigestSettings } from '../shared/people/digest.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** The morning digest: who may want one, when, and what it tells. */
export interface DigestPerson {
  readonly person: string;
  readonly name: string;
  /** null: every site */
  readonly sites: readonly string[] | null;
  /** null: as usual (shared/people/digest.ts) */
  readonly settings: DigestSettings | null;
  /** the newest day of which one was made, or passed over; null: none yet */
  readonly lastDay: string | null;
  readonly lastAt: Instant | null;
}

const PEOPLE = statement(
  'digests-people',
  `select p.id as person, p.name, p.sites,
     case when s.person is null then null else json_build_object('isOn', s.is_on, 'atMinutes', s.at_minutes, 'zone', s.zone,
       'weekday', s.weekday, 'isMonthly', s.is_monthly) end as settings,
     to_char(d.day, 'YYYY-MM-DD') as "lastDay", d.made_at as "lastAt"
   from people p left join digest_settings s on s.person = p.id
     left join lateral (select day, made_at from digests where person = p.id order by day desc limit 1) d on true
   where p.closed_at is null
     and exists (select from channels c where c.person = p.id and c.disabled_at is null and c.kind in ('e-mail', 'webhook'))
   order by p.id limit 10000`,
);
/** Everybody who can be sent one. */
export const readDigestPeople = (queries: Queries): Promise<DigestPerson[]> => queries.many(PEOPLE);

const CLAIM = statement(
  'digests-claim',
  `insert into digests (person, day, kind, made_at) values ($1, $2::date, $3, $4) on conflict do nothing`,
);
/** False: it is made already. */
export const claimDigest = async (
  queries: Queries,
  { person, day, kind }: { readonly person: string; readonly day: string; readonly kind: string },
  now: Instant,
): Promise<boolean> => (await queries.run(CLAIM, [person, day, kind, timeParameter(now)])) > 0;

export interface DigestAlarm {
  readonly alarm: Alarm;
  readonly state: string;
  /** it waits for the end of the night */
  readonly held: boolean;
}

const ALARMS_BOUND = 1_000;
const ALARMS = statement(
  'digests-alarms',
  `select a.body as alarm, a.state, coalesce(e.state = 'held', false) as held
   from alarms a left join escalations e on e.alarm = a.id
   where ($1::text[] is null or a.site = any($1))
     and (a.state in ('B', 'C', 'D', 'E', 'F') or (a.state = 'A' and e.started_at >= $2))
   order by case a.severity when 'critical' then 0 when 'major' then 1 else 2 end, a.raised_at limit ${ALARMS_BOUND}`,
);
/** What is open in the open, and what people were to be told of since and is at rest; the worst first. */
export const readDigestAlarms = (
  queries: Queries,
  sites: readonly string[] | null,
  since: Instant,
): Promise<DigestAlarm[]> => queries.many(ALARMS, [sites, timeParameter(since)]);

const COUNTS = statement(
  'digests-counts',
  `select (select count(*) from tasks where closed_at is null and ($1::text[] is null or site = any($1))) as tasks,
     (select count(*) from sites where $1::text[] is null or id = any($1)) as sites`,
);
export const readDigestCounts = (
  queries: Queries,
  sites: readonly string[] | null,
): Promise<{ tasks: number; sites: number }> => queries.one(COUNTS, [sites]);

const SETTINGS = statement(
  'digests-settings',
  `select is_on as "isOn", at_minutes as "atMinutes", zone, weekday, is_monthly as "isMonthly" from digest_settings where person = $1`,
);
export const readDigestSettings = (queries: Queries, person: string): Promise<DigestSettings | null> =>
  queries.maybe(SETTINGS, [person]);

const PUT = statement(
  'digests-put-settings',
  `insert into digest_settings (person, is_on, at_minutes, zone, weekday, is_monthly) values ($1, $2, $3, $4, $5, $6)
   on conflict (person) do update set is_on = excluded.is_on, at_minutes = excluded.at_minutes, zone = excluded.zone,
     weekday = excluded.weekday, is_monthly = excluded.is_monthly`,
);
export const putDigestSettings = (
  queries: Queries,
  person: string,
  { isOn, atMinutes, zone, weekday, isMonthly }: DigestSettings,
): Promise<number> => queries.run(PUT, [person, isOn, atMinutes, zone, weekday, isMonthly]);

const TRIM = statement(
  'digests-trim',
  `delete from digests where made_at < $1::timestamptz - interval '400 days'`,
);
/** Brings what was made back within its bound of days. */
export const trimDigests = (queries: Queries, now: Instant): Promise<number> =>
  queries.run(TRIM, [timeParameter(now)]);
