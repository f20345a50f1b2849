import type { Instant } from '../shared/base/instant.ts';
import type { Role } from '../shared/wire/may.ts';
import { statement, type Queries, type Transactions } from './pool.ts';
import { timeOrNull, timeParameter } from './values.ts';

/** People: who may sign in, as what, and for which sites. */
export interface PersonRow {
  readonly id: string;
  readonly name: string;
  readonly email: string;
  readonly role: Role;
  /** null: every site */
  readonly sites: readonly string[] | null;
  readonly createdAt: Instant;
  /** since when they may not sign in */
  readonly closedAt: Instant | null;
  readonly hasPassword: boolean;
}

export interface NewPerson {
  readonly name: string;
  /** in lower case */
  readonly email: string;
  readonly role: Role;
  readonly sites: readonly string[] | null;
  readonly password: string | null;
}

export const PERSON_COLUMNS = `p.id, p.name, p.email, p.role, p.sites, p.created_at as "createdAt", p.closed_at as "closedAt",
  p.password is not null as "hasPassword"`;

/** Whoever may run the whole: the last of them can't be taken away. */
const ACTIVE_ADMINISTRATOR = `role = 'administrator' and password is not null and closed_at is null`;

const HAS_ADMINISTRATOR = statement(
  'people-has-administrator',
  `select exists (select from people where ${ACTIVE_ADMINISTRATOR}) as "isSetUp"`,
);
export const hasAdministrator = async (queries: Queries): Promise<boolean> =>
  (await queries.one<{ isSetUp: boolean }>(HAS_ADMINISTRATOR)).isSetUp;

/** One at a time decides who the first or the last administrator is. */
const LOCK = statement('people-lock', 'select pg_advisory_xact_lock(7203, 8)');

const INSERT = statement(
  'people-insert',
  `insert into people as p (name, email, role, sites, password, created_at) values ($1, $2, $3, $4, $5, $6)
   on conflict (email) do nothing returning ${PERSON_COLUMNS}`,
);
/** null: there is somebody with that address already. */
export const insertPerson = (queries: Queries, person: NewPerson, now: Instant): Promise<PersonRow | null> =>
  queries.maybe<PersonRow>(INSERT, [
    person.name,
    person.email,
    person.role,
    person.sites,
    person.password,
    timeParameter(now),
  ]);

/** The first administrator; `set-up`: there is one already; `taken`: somebody has that address. */
export const insertFirstAdministrator = (
  database: Transactions,
  person: Pick<NewPerson, 'name' | 'email'> & { readonly password: string },
  now: Instant,
): Promise<PersonRow | 'set-up' | 'taken'> =>
  database.transaction({ name: 'first-administrator' }, async (queries) => {
    await queries.run(LOCK);
    if (await hasAdministrator(queries)) return 'set-up';
    const made = await insertPerson(queries, { ...person, role: 'administrator', sites: null }, now);
    return made ?? 'taken';
  });

const ONE = statement('people-one', `select ${PERSON_COLUMNS} from people p where id = $1`);
export const readPerson = (queries: Queries, id: string): Promise<PersonRow | null> =>
  queries.maybe<PersonRow>(ONE, [id]);

const BY_EMAIL = statement(
  'people-by-email',
  `select ${PERSON_COLUMNS}, p.password from people p where p.email = $1 and p.closed_at is null`,
);
/** With the password as it is kept, to be compared. */
export const readPersonToSignIn = (
  queries: Queries,
  email: string,
): Promise<(PersonRow & { readonly password: string | null }) | null> => queries.maybe(BY_EMAIL, [email]);

const PASSWORD = statement('people-password', 'select password from people where id = $1');
export const readPassword = async (queries: Queries, id: string): Promise<string | null> =>
  (await queries.maybe<{ password: string | null }>(PASSWORD, [id]))?.password ?? null;

const LIST = statement(
  'people-list',
  `select ${PERSON_COLUMNS}, (select max(seen_at) from sessions s where s.person = p.id) as "seenAt" from people p
   where ($1::text is null or (lower(p.name), p.id) > (lower($1), $2::uuid)) order by lower(p.name), p.id limit $3`,
);
/** By name, after one of them. */
export const readPeople = (
  queries: Queries,
  after: { readonly name: string; readonly id: string } | null,
  limit: number,
): Promise<(PersonRow & { readonly seenAt: Instant | null })[]> =>
  queries.many(LIST, [after?.name ?? null, after?.id ?? null, limit]);

const UPDATE = statement(
  'people-update',
  `update people p set name = $2, role = $3, sites = $4, closed_at = case when $5::timestamptz is null then null
     else coalesce(closed_at, $5) end
   where id = $1 returning ${PERSON_COLUMNS}`,
);
const OTHERS = statement(
  'people-other-administrators',
  `select exists (select from people where id <> $1 and ${ACTIVE_ADMINISTRATOR}) as "isSetUp"`,
);

export interface PersonUpdate extends Pick<PersonRow, 'name' | 'role' | 'sites'> {
  readonly closedAt: Instant | null;
}
export type Updated = { readonly before: PersonRow; readonly after: PersonRow } | 'not-found' | 'the-last';

/** `the-last`: nobody would be left who may look after people, so nothing was changed. */
export const updatePerson = (database: Transactions, id: string, change: PersonUpdate): Promise<Updated> =>
  database.transaction({ name: 'update-person' }, async (queries) => {
    await queries.run(LOCK);
    const before = await readPerson(queries, id);
    if (!before) return 'not-found';
    const stays = change.role === 'administrator' && change.closedAt === null;
    const isOne = before.role === 'administrator' && before.closedAt === null && before.hasPassword;
    if (isOne && !stays && !(await queries.one<{ isSetUp: boolean }>(OTHERS, [id])).isSetUp)
      return 'the-last';
    const { name, role, sites, closedAt } = change;
    const after = await queries.one<PersonRow>(UPDATE, [id, name, role, sites, timeOrNull(closedAt)]);
    return { before, after };
  });

const SET_PASSWORD = statement('people-set-password', 'update people set password = $2 where id = $1');
export const setPassword = (queries: Queries, id: string, password: string): Promise<number> =>
  queries.run(SET_PASSWORD, [id, password]);
