import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeArray, timeParameter } from './values.ts';

/** Whom the broker turned away: one row for each reason, user and address, counted. Strangers can't fill it: see its bounds. */
export interface RefusalRow {
  readonly why: string;
  /** '': none was given */
  readonly username: string;
  /** '': not known */
  readonly address: string;
  readonly client: string;
  /** of the last one: a topic, or what went wrong */
  readonly detail: string;
  readonly firstAt: Instant;
  readonly lastAt: Instant;
  readonly times: number;
}

const ROWS_BOUND = 1_000;
const KEPT_DAYS = 30;

const WRITE = statement(
  'refusals-write',
  `insert into gateway_refusals as r (why, username, address, client, detail, first_at, last_at, times)
   select why, username, address, client, detail, first_at, last_at, times
   from unnest($1::text[], $2::text[], $3::text[], $4::text[], $5::text[], $6::timestamptz[], $7::timestamptz[], $8::int[])
     as g(why, username, address, client, detail, first_at, last_at, times)
   order by why, username, address
   on conflict (why, username, address) do update set client = excluded.client, detail = excluded.detail,
     first_at = least(r.first_at, excluded.first_at), last_at = greatest(r.last_at, excluded.last_at),
     times = r.times + excluded.times`,
);
const TRIM = statement(
  'refusals-trim',
  `delete from gateway_refusals where last_at < $1::timestamptz - interval '${KEPT_DAYS} days'
     or (why, username, address) in (select why, username, address from gateway_refusals
       order by last_at desc, why, username, address offset ${ROWS_BOUND})`,
);

/** Adds them to those that are kept; the oldest go. */
export async function writeRefusals(
  queries: Queries,
  rows: readonly RefusalRow[],
  now: Instant,
): Promise<void> {
  if (rows.length === 0) return;
  await queries.run(WRITE, [
    rows.map(({ why }) => why),
    rows.map(({ username }) => username),
    rows.map(({ address }) => address),
    rows.map(({ client }) => client),
    rows.map(({ detail }) => detail),
    timeArray(rows.map(({ firstAt }) => firstAt)),
    timeArray(rows.map(({ lastAt }) => lastAt)),
    rows.map(({ times }) => times),
  ]);
  await queries.run(TRIM, [timeParameter(now)]);
}

const READ = statement(
  'refusals-read',
  `select r.why, r.username, r.address, r.client, r.detail, r.first_at as "firstAt", r.last_at as "lastAt", r.times
   from gateway_refusals r left join gateway_credentials c using (username)
   where c.site = $1 or ($2 and c.id is null) order by r.last_at desc, r.why, r.username, r.address limit 100`,
);
/** Of the users that are a site's, the newest first; `strangers`: and of those that are nobody's. */
export const readRefusals = (queries: Queries, site: string, strangers: boolean): Promise<RefusalRow[]> =>
  queries.many(READ, [site, strangers]);
