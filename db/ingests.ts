import type { Instant } from '../shared/base/instant.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * Ingests that share the messages of one group. A gateway's messages are spread over all of them, so what one has heard
 * doesn't say that what came before is committed: it counts only when every registered one has committed what it had
 * received by then. "By then" is told by a sequence and by no clock:
 *
 *   1. a mark notes the newest life of each gateway, and only then draws a number (`next_t`, `next_in`);
 *   2. an ingest draws a number, and only then sends a message to itself, which comes back behind all that the broker had
 *      for it; when everything before it is committed, so is all that was heard up to that number (`committed_in`);
 *   3. a noted life counts when the least `committed_in` has passed its number; then the next is noted.
 *
 * Two instants for each gateway are enough, and nobody's clock matters. While a single one is registered all counts at once.
 */

const LOCK_MARKS = statement('ingest-lock-marks', 'lock table watch_marks in share row exclusive mode');
const KNOWN = statement('ingest-known', 'select share from ingests where id = $1');

/** Where numbers begin anew (a database that was restored), those that were given out don't stand above them. */
const RAISE = statement(
  'ingest-raise-hearings',
  `select setval('hearings', greatest((select last_value from hearings),
     (select max(committed_in) from ingests), (select max(next_in) from gateway_lives), 1))`,
);
/** All that was heard before there were several counts. */
const COUNT_ALL = statement(
  'ingest-count-all',
  `update gateway_lives set counted_t = t, next_t = null, next_in = null where (select count(*) from ingests) <= $1`,
);
const REGISTER = statement(
  'ingest-register',
  `insert into ingests (id, share, committed_t, committed_in)
   values ($1, $2, coalesce((select t from watched_through), $3), nextval('hearings'))`,
);

/**
 * From now on the horizon waits for it, too; to be called before it subscribes. `known`: it was registered before, and a
 * session of it may hold messages. What was watched stays watched: nobody writes a mark meanwhile.
 */
export const registerIngest = (
  database: Database,
  ingest: { readonly id: string; readonly share: string },
  now: Instant,
): Promise<'new' | 'known'> =>
  database.transaction({ name: 'register-ingest' }, async (queries) => {
    await queries.run(LOCK_MARKS);
    const known = await queries.maybe<{ share: string }>(KNOWN, [ingest.id]);
    if (known && known.share !== ingest.share) throw new Error(otherShare(ingest.id, known.share));
    await queries.one(RAISE);
    if (known) return 'known';
    await queries.run(COUNT_ALL, [1]);
    await queries.run(REGISTER, [ingest.id, ingest.share, timeParameter(now)]);
    return 'new';
  });

const otherShare = (id: string, share: string): string =>
  `The ingest “${id}” belongs to the group “${share}”: what is kept for it at the broker would stay there. Set INGEST_GROUP=${share}, or end that with --leave first.`;

/** Refuses to start outside of the group whose messages its session may hold. */
export async function refuseMember(queries: Queries, id: string): Promise<void> {
  const known = await queries.maybe<{ share: string }>(KNOWN, [id]);
  if (known) throw new Error(otherShare(id, known.share));
}

const UNREGISTER = statement('ingest-unregister', 'delete from ingests where id = $1');

/** Nobody waits for it any more: all that it received is committed, or is given up. */
export const unregisterIngest = (database: Database, id: string): Promise<boolean> =>
  database.transaction({ name: 'unregister-ingest' }, async (queries) => {
    const isGone = (await queries.run(UNREGISTER, [id])) > 0;
    await queries.run(COUNT_ALL, [1]);
    return isGone;
  });

const FORGET = statement('', 'delete from ingests');

/** Of an installation that was restored: none of those that worked on the old one works on it. */
export async function forgetIngests(queries: Queries): Promise<void> {
  await queries.run(FORGET);
  await queries.run(COUNT_ALL, [1]);
}

const RUNNING = statement(
  'ingest-running',
  `select count(*)::int as count from pg_stat_activity
   where datname = current_database() and application_name = left($1, 63)`,
);

/** How many connections a process of this name has. */
export const readConnections = async (queries: Queries, name: string): Promise<number> =>
  (await queries.one<{ count: number }>(RUNNING, [name])).count;

const HEAR = statement('ingest-hear', "select nextval('hearings') as number");

/** A number for all that any ingest has heard until now. */
export const nextHearing = async (queries: Queries): Promise<number> =>
  (await queries.one<{ number: number }>(HEAR)).number;

const COMMITTED = statement(
  'ingest-committed',
  `update ingests set committed_t = greatest(committed_t, $2), committed_in = $3, marked_at = now() where id = $1`,
);
/** In one order and past what others hold, so that nobody waits in a ring; those are counted by the next mark. */
const COUNT = statement(
  'ingest-count-lives',
  `with all_committed as (select min(committed_in) as through from ingests),
   due as (
     select l.site, l.gateway from gateway_lives l, all_committed a
     where (l.next_in is null and l.t > l.counted_t) or l.next_in <= a.through
     order by l.site, l.gateway for update of l skip locked
   ), number as (select nextval('hearings') as given from (select count(*) from due) counted)
   update gateway_lives l set
     counted_t = greatest(l.counted_t, coalesce(l.next_t, l.counted_t)),
     next_t = case when l.t > coalesce(l.next_t, l.counted_t) then l.t end,
     next_in = case when l.t > coalesce(l.next_t, l.counted_t) then number.given end
   from due, number where l.site = due.site and l.gateway = due.gateway`,
);

/** Everything sent to this ingest up to `to`, and heard up to the number, is committed: what counts now, counts. */
export async function noteCommitted(
  queries: Queries,
  { ingest, to, heardIn }: { readonly ingest: string; readonly to: Instant; readonly heardIn: number },
): Promise<void> {
  await queries.run(COMMITTED, [ingest, timeParameter(to), heardIn]);
  await queries.run(COUNT);
}

/** A registered ingest, and for how long nothing has been heard of it. */
export interface RegisteredIngest {
  readonly id: string;
  readonly share: string;
  /** through when all that was sent to it is committed */
  readonly committedThrough: Instant;
  readonly silentSeconds: number;
}

const READ = statement(
  'ingests-read',
  `select id, share, committed_t as "committedThrough", extract(epoch from now() - marked_at)::float8 as "silentSeconds"
   from ingests order by id limit 1000`,
);

export const readIngests = (queries: Queries): Promise<RegisteredIngest[]> => queries.many(READ);
