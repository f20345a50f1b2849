import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Links that let somebody choose a password, once: found by the digest of their secret, gone when used. */
export type LinkPurpose = 'invitation' | 'password-reset';

export interface LinkRow {
  readonly purpose: LinkPurpose;
  readonly person: string;
  readonly name: string;
  readonly email: string;
  readonly expiresAt: Instant;
}

const CLEAR = statement('links-clear', 'delete from account_links where person = $1');
const INSERT = statement(
  'links-insert',
  `insert into account_links (secret_hash, person, purpose, created_at, expires_at) values ($1, $2, $3, $4, $5)`,
);
/** A person has one at most: a new one takes the place of any before. */
export async function insertLink(
  queries: Queries,
  link: {
    readonly secretHash: Buffer;
    readonly person: string;
    readonly purpose: LinkPurpose;
    readonly now: Instant;
    readonly expiresAt: Instant;
  },
): Promise<void> {
  const { secretHash, person, purpose, now, expiresAt } = link;
  await clearLinks(queries, person);
  await queries.run(INSERT, [secretHash, person, purpose, timeParameter(now), timeParameter(expiresAt)]);
}
export const clearLinks = (queries: Queries, person: string): Promise<number> => queries.run(CLEAR, [person]);

const COLUMNS = `l.purpose, l.person, p.name, p.email, l.expires_at as "expiresAt"`;
const FIND = statement(
  'links-find',
  `select ${COLUMNS} from account_links l join people p on p.id = l.person
   where l.secret_hash = $1 and l.expires_at > $2 and p.closed_at is null`,
);
export const findLink = (queries: Queries, secretHash: Buffer, now: Instant): Promise<LinkRow | null> =>
  queries.maybe<LinkRow>(FIND, [secretHash, timeParameter(now)]);

const TAKE = statement(
  'links-take',
  `delete from account_links l using people p
   where p.id = l.person and l.secret_hash = $1 and l.expires_at > $2 and p.closed_at is null returning ${COLUMNS}`,
);
/** Of two who come with one link at once, one gets it. */
export const takeLink = (queries: Queries, secretHash: Buffer, now: Instant): Promise<LinkRow | null> =>
  queries.maybe<LinkRow>(TAKE, [secretHash, timeParameter(now)]);

const SWEEP = statement('links-sweep', 'delete from account_links where expires_at <= $1');
export const sweepLinks = (queries: Queries, now: Instant): Promise<number> =>
  queries.run(SWEEP, [timeParameter(now)]);
