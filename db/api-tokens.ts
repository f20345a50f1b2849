import type { Instant } from '../shared/base/instant.ts';
import type { Role } from '../shared/wire/may.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Tokens for programs, found by the digest of their secret; each acts with at most the rights of who made it. */
export interface TokenRow {
  readonly id: string;
  readonly name: string;
  readonly role: Role;
  readonly sites: readonly string[] | null;
  readonly createdAt: Instant;
  readonly expiresAt: Instant;
  readonly usedAt: Instant | null;
}

const COLUMNS = `t.id, t.name, t.role, t.sites, t.created_at as "createdAt", t.expires_at as "expiresAt",
  t.used_at as "usedAt"`;

const INSERT = statement(
  'tokens-insert',
  `insert into api_tokens as t (secret_hash, person, name, role, sites, created_at, expires_at)
   select $1, $2, $3, $4, $5::text[], $6, $7 where (select count(*) from api_tokens where person = $2) < $8
   returning ${COLUMNS}`,
);
/** null: the person has as many as they may. */
export const insertToken = (
  queries: Queries,
  token: {
    readonly secretHash: Buffer;
    readonly person: string;
    readonly name: string;
    readonly role: Role;
    readonly sites: readonly string[] | null;
    readonly now: Instant;
    readonly expiresAt: Instant;
    readonly most: number;
  },
): Promise<TokenRow | null> =>
  queries.maybe<TokenRow>(INSERT, [
    token.secretHash,
    token.person,
    token.name,
    token.role,
    token.sites,
    timeParameter(token.now),
    timeParameter(token.expiresAt),
    token.most,
  ]);

const LIST = statement(
  'tokens-list',
  `select ${COLUMNS} from api_tokens t where person = $1 order by created_at desc, id limit 200`,
);
export const readTokens = (queries: Queries, person: string): Promise<TokenRow[]> =>
  queries.many<TokenRow>(LIST, [person]);

const DELETE = statement('tokens-delete', 'delete from api_tokens where person = $1 and id = $2');
export const deleteToken = async (queries: Queries, person: string, id: string): Promise<boolean> =>
  (await queries.run(DELETE, [person, id])) > 0;

/** A token with the rights of its person, as both stand now. */
export interface TokenPerson extends TokenRow {
  readonly personRole: Role;
  readonly personSites: readonly string[] | null;
  readonly personName: string;
}

const FIND = statement(
  'tokens-find',
  `select ${COLUMNS}, p.role as "personRole", p.sites as "personSites", p.name as "personName"
   from api_tokens t join people p on p.id = t.person
   where t.secret_hash = $1 and t.expires_at > $2 and p.closed_at is null`,
);
export const findToken = (queries: Queries, secretHash: Buffer, now: Instant): Promise<TokenPerson | null> =>
  queries.maybe<TokenPerson>(FIND, [secretHash, timeParameter(now)]);

const TOUCH = statement('tokens-touch', 'update api_tokens set used_at = $2 where id = $1');
export const touchToken = (queries: Queries, id: string, now: Instant): Promise<number> =>
  queries.run(TOUCH, [id, timeParameter(now)]);

const SWEEP = statement('tokens-sweep', 'delete from api_tokens where expires_at <= $1');
export const sweepTokens = (queries: Queries, before: Instant): Promise<number> =>
  queries.run(SWEEP, [timeParameter(before)]);
