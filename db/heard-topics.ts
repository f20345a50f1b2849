import type { Instant } from '../shared/base/instant.ts';
import { holdConfiguration } from './configuration-lock.ts';
import { statement, type Database, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/**
 * What is listened to besides the points' own topics, for a while, and what was heard there. The setting raises the revision
 * of the configuration, so that every ingest reads it before its next commit.
 */
export interface TopicsListened {
  readonly filters: readonly string[];
  readonly until: Instant;
  readonly askedBy: string;
}

const LISTENED = statement(
  'heard-listened',
  `select filters, until_at as "until", asked_by as "askedBy" from topics_listened where until_at > now()`,
);
/** null: nothing is, or it is over. */
export const readTopicsListened = (queries: Queries): Promise<TopicsListened | null> =>
  queries.maybe(LISTENED);

const LISTEN = statement(
  'heard-listen',
  `insert into topics_listened (filters, until_at, asked_by, asked_at) values ($1, now() + make_interval(secs => $2), $3, now())
   on conflict (only_row) do update
     set filters = excluded.filters, until_at = excluded.until_at, asked_by = excluded.asked_by, asked_at = excluded.asked_at`,
);
const END = statement('heard-listen-end', 'delete from topics_listened');
const RAISE = statement('heard-raise-revision', 'update configuration set revision = revision + 1');

/** From the next commit of each ingest on, for so many seconds by the database’s clock; null: it ends now. */
export const listenToTopics = (
  database: Database,
  asked: { readonly filters: readonly string[]; readonly seconds: number; readonly by: string } | null,
): Promise<void> =>
  database.transaction({ name: 'listen-to-topics' }, async (queries) => {
    await holdConfiguration(queries);
    if (asked) await queries.run(LISTEN, [asked.filters, asked.seconds, asked.by]);
    else await queries.run(END);
    await queries.run(RAISE);
  });

/** One value with its place; the body is shared/wiring/heard.ts's. */
export interface HeardTopicRow<Body> {
  readonly topic: string;
  readonly pointer: string;
  readonly body: Body;
  readonly lastAt: Instant;
}

/** The store's bounds. When it is full, what was heard before goes on; nothing new is taken. */
export const HEARD_ROWS = 5_000;
const HEARD_DAYS = 30;

const KNOWN = statement(
  'heard-known',
  `select h.topic, h.pointer, h.body, h.last_at as "lastAt" from heard_topics h
   join unnest($1::text[], $2::text[]) as k(topic, pointer) on k.topic = h.topic and k.pointer = h.pointer
   order by h.topic, h.pointer for update of h`,
);
const COUNT = statement('heard-count', 'select count(*)::int as count from heard_topics');
const KEEP = statement(
  'heard-keep',
  `insert into heard_topics (topic, pointer, body, last_at)
   select topic, pointer, body::jsonb, last_at from unnest($1::text[], $2::text[], $3::text[], $4::timestamptz[])
     as h(topic, pointer, body, last_at) order by topic, pointer
   on conflict (topic, pointer) do update set body = excluded.body, last_at = excluded.last_at`,
);
const FORGET = statement(
  'heard-forget',
  `delete from heard_topics where last_at < now() - interval '${HEARD_DAYS} days' and ignored_at is null`,
);
const LOCK = statement('heard-lock', 'select pg_advisory_xact_lock(7203, 25)');

/** Joins what was heard to what is kept of it; one writer at a time. Answers how many had no room. */
export const keepHeard = <Body>(
  database: Database,
  heard: readonly HeardTopicRow<Body>[],
  join: (kept: Body, more: Body) => Body,
): Promise<number> =>
  database.transaction({ name: 'keep-heard' }, async (queries) => {
    await queries.run(LOCK);
    await queries.run(FORGET);
    const keys = [heard.map(({ topic }) => topic), heard.map(({ pointer }) => pointer)];
    const known = new Map(
      (await queries.many<HeardTopicRow<Body>>(KNOWN, keys)).map((row) => [
        `${row.topic} ${row.pointer}`,
        row,
      ]),
    );
    const { count } = await queries.one<{ count: number }>(COUNT);
    let room = Math.max(0, HEARD_ROWS - count);
    const kept = heard.flatMap((one): HeardTopicRow<Body>[] => {
      const before = known.get(`${one.topic} ${one.pointer}`);
      if (before) return [{ ...one, body: join(before.body, one.body) }];
      return room-- > 0 ? [one] : [];
    });
    await queries.run(KEEP, [
      kept.map(({ topic }) => topic),
      kept.map(({ pointer }) => pointer),
      kept.map(({ body }) => JSON.stringify(body)),
      kept.map(({ lastAt }) => timeParameter(lastAt)),
    ]);
    return heard.length - kept.length;
  });

const READ = statement(
  'heard-read',
  `select topic, pointer, body, last_at as "lastAt", ignored_by as "ignoredBy" from heard_topics
   where $1::text is null or topic like $1 order by topic, pointer limit ${HEARD_ROWS}`,
);
/** `below`: only what was heard there; null: everything. */
export const readHeard = <Body>(
  queries: Queries,
  below: string | null,
): Promise<(HeardTopicRow<Body> & { readonly ignoredBy: string | null })[]> =>
  queries.many(READ, [below === null ? null : `${below.replace(/[\\%_]/g, '\\$&')}/%`]);

const IGNORE = statement(
  'heard-ignore',
  `update heard_topics set ignored_at = case when $3 then now() end, ignored_by = case when $3 then $4 end
   where topic = $1 and pointer = $2`,
);
/** False: nothing like it was heard. */
export const ignoreHeard = async (
  queries: Queries,
  one: { readonly topic: string; readonly pointer: string; readonly ignore: boolean; readonly by: string },
): Promise<boolean> => (await queries.run(IGNORE, [one.topic, one.pointer, one.ignore, one.by])) > 0;
