import type { DocumentChange, StoredDocument } from './rosters.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Policies as documents, and which site has which. */
export interface StoredPolicy extends StoredDocument {
  readonly isDefault: boolean;
  readonly sites: readonly string[];
}

const COLUMNS = `id, name, document, changed_at as "changedAt", changed_by as "changedBy", is_default as "isDefault",
  array(select site from policy_sites where policy = policies.id order by site) as sites`;
const POLICIES_BOUND = 200;

const LIST = statement('policies-list', `select ${COLUMNS} from policies order by lower(name), id limit $1`);
export const readPolicies = (queries: Queries): Promise<StoredPolicy[]> =>
  queries.many(LIST, [POLICIES_BOUND]);

const FOR_SITE = statement(
  'policies-for-site',
  `select ${COLUMNS} from policies
   where id = (select policy from policy_sites where site = $1)
      or (is_default and not exists (select from policy_sites where site = $1))`,
);
/** The site's own, else the one for all others; null: there is none, and nobody is told. */
export const readPolicyOf = (queries: Queries, site: string): Promise<StoredPolicy | null> =>
  queries.maybe(FOR_SITE, [site]);

export interface PolicyChange extends DocumentChange {
  readonly isDefault: boolean;
  /** sites that have this one for their own */
  readonly sites: readonly string[];
}

const NOT_DEFAULT = statement(
  'policies-not-default',
  'update policies set is_default = false where is_default',
);
const INSERT = statement(
  'policies-insert',
  `insert into policies (name, document, changed_at, changed_by, is_default) values ($1, $2, $3, $4, $5)
   on conflict (name) do nothing returning id`,
);
const UPDATE = statement(
  'policies-update',
  `update policies set name = $2, document = $3, changed_at = $4, changed_by = $5, is_default = $6
   where id = $1 and not exists (select from policies other where other.name = $2 and other.id <> $1)
   returning id`,
);
const LEAVE_SITES = statement('policies-leave-sites', 'delete from policy_sites where policy = $1');
const TAKE_SITES = statement(
  'policies-take-sites',
  `insert into policy_sites (site, policy) select id, $1 from sites where id = any($2::text[])
   on conflict (site) do update set policy = excluded.policy`,
);
const ONE = statement('policies-one', `select ${COLUMNS} from policies where id = $1`);

/** In a transaction. null: there is no such policy, or another has that name. */
export async function putPolicy(queries: Queries, change: PolicyChange): Promise<StoredPolicy | null> {
  if (change.isDefault) await queries.run(NOT_DEFAULT);
  const { name, document, now, by, isDefault } = change;
  const values = [name, JSON.stringify(document), timeParameter(now), by, isDefault];
  const put = await (change.id === null
    ? queries.maybe<{ id: string }>(INSERT, values)
    : queries.maybe<{ id: string }>(UPDATE, [change.id, ...values]));
  if (put === null) return null;
  await queries.run(LEAVE_SITES, [put.id]);
  await queries.run(TAKE_SITES, [put.id, change.sites]);
  return queries.one<StoredPolicy>(ONE, [put.id]);
}

const DELETE = statement('policies-delete', 'delete from policies where id = $1');
export const deletePolicy = async (queries: Queries, id: string): Promise<boolean> =>
  (await queries.run(DELETE, [id])) > 0;
