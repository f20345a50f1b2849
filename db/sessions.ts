import type { Instant } from '../shared/base/instant.ts';
import type { Role } from '../shared/wire/may.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Who is signed in where. A session is found by the digest of its secret alone. */
export interface SessionRow {
  readonly id: string;
  readonly createdAt: Instant;
  readonly seenAt: Instant;
  readonly endsAt: Instant;
  readonly address: string;
  readonly browser: string;
}

/** A session with the person whom it stands for. */
export interface SessionPerson {
  readonly session: string;
  readonly seenAt: Instant;
  readonly person: string;
  readonly name: string;
  readonly email: string;
  readonly role: Role;
  readonly sites: readonly string[] | null;
}

const FIND = statement(
  'sessions-find',
  `select s.id as session, s.seen_at as "seenAt", p.id as person, p.name, p.email, p.role, p.sites
   from sessions s join people p on p.id = s.person
   where s.secret_hash = $1 and s.ends_at > $2 and s.seen_at > $3 and p.closed_at is null`,
);
/** One that hasn't ended, was seen since, and whose person may sign in. */
export const findSession = (
  queries: Queries,
  secretHash: Buffer,
  { now, seenSince }: { readonly now: Instant; readonly seenSince: Instant },
): Promise<SessionPerson | null> =>
  queries.maybe<SessionPerson>(FIND, [secretHash, timeParameter(now), timeParameter(seenSince)]);

const TOUCH = statement(
  'sessions-touch',
  'update sessions set seen_at = greatest(seen_at, $2), address = $3 where id = $1',
);
export const touchSession = (queries: Queries, id: string, now: Instant, address: string): Promise<number> =>
  queries.run(TOUCH, [id, timeParameter(now), address]);

const INSERT = statement(
  'sessions-insert',
  `insert into sessions (secret_hash, person, created_at, seen_at, ends_at, address, browser)
   values ($1, $2, $3, $3, $4, $5, $6)`,
);
/** A person has so many at once; past that the one unused for longest goes. */
const MOST = 50;
const TRIM = statement(
  'sessions-trim',
  `delete from sessions where id in (
     select id from sessions where person = $1 order by seen_at desc, id offset ${MOST} limit 1000)`,
);
export async function insertSession(
  queries: Queries,
  session: {
    readonly secretHash: Buffer;
    readonly person: string;
    readonly now: Instant;
    readonly endsAt: Instant;
    readonly address: string;
    readonly browser: string;
  },
): Promise<void> {
  const { secretHash, person, now, endsAt, address, browser } = session;
  await queries.run(INSERT, [
    secretHash,
    person,
    timeParameter(now),
    timeParameter(endsAt),
    address,
    browser.slice(0, 200),
  ]);
  await queries.run(TRIM, [person]);
}

const LIST = statement(
  'sessions-list',
  `select id, created_at as "createdAt", seen_at as "seenAt", ends_at as "endsAt", address, browser from sessions
   where person = $1 and ends_at > $2 and seen_at > $3 order by seen_at desc, id limit ${MOST}`,
);
export const readSessions = (
  queries: Queries,
  person: string,
  { now, seenSince }: { readonly now: Instant; readonly seenSince: Instant },
): Promise<SessionRow[]> =>
  queries.many<SessionRow>(LIST, [person, timeParameter(now), timeParameter(seenSince)]);

const DELETE_ONE = statement('sessions-delete', 'delete from sessions where person = $1 and id = $2');
export const deleteSession = async (queries: Queries, person: string, id: string): Promise<boolean> =>
  (await queries.run(DELETE_ONE, [person, id])) > 0;

const DELETE_OTHERS = statement(
  'sessions-delete-others',
  'delete from sessions where person = $1 and ($2::uuid is null or id <> $2)',
);
/** All of a person's sessions, but one where that is named; answers how many ended. */
export const deleteSessions = (queries: Queries, person: string, but: string | null): Promise<number> =>
  queries.run(DELETE_OTHERS, [person, but]);

const DELETE_SECRET = statement('sessions-delete-secret', 'delete from sessions where secret_hash = $1');
export const deleteSessionOf = (queries: Queries, secretHash: Buffer): Promise<number> =>
  queries.run(DELETE_SECRET, [secretHash]);

const SWEEP = statement('sessions-sweep', 'delete from sessions where ends_at <= $1 or seen_at <= $2');
export const sweepSessions = (
  queries: Queries,
  { now, seenSince }: { readonly now: Instant; readonly seenSince: Instant },
): Promise<number> => queries.run(SWEEP, [timeParameter(now), timeParameter(seenSince)]);
