import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';
import { timeParameter } from './values.ts';

/** Links in messages: one a person and alarm. The key that signs them is made once and shared by every server. */
export interface AcceptLinkRow {
  readonly id: number;
  readonly alarm: string;
  readonly person: string;
  readonly personName: string;
  readonly expiresAt: Instant;
}

const KEEP_KEY = statement(
  'link-keys-keep',
  'insert into link_keys (key) values ($1) on conflict do nothing',
);
const READ_KEY = statement('link-keys-read', 'select key from link_keys');

/** `fresh`: 32 bytes of chance, kept if there is no key yet. */
export async function readLinkKey(queries: Queries, fresh: Buffer): Promise<Buffer> {
  await queries.run(KEEP_KEY, [fresh]);
  return (await queries.one<{ key: Buffer }>(READ_KEY)).key;
}

const KEEP = statement(
  'accept-links-keep',
  `insert into accept_links (alarm, person, expires_at) values ($1, $2, $3)
   on conflict (alarm, person) do update set expires_at = excluded.expires_at
   returning id`,
);
export const keepAcceptLink = async (
  queries: Queries,
  alarm: string,
  person: string,
  expiresAt: Instant,
): Promise<number> => (await queries.one<{ id: number }>(KEEP, [alarm, person, timeParameter(expiresAt)])).id;

const READ = statement(
  'accept-links-read',
  `select l.id, l.alarm, l.person, p.name as "personName", l.expires_at as "expiresAt"
   from accept_links l join people p on p.id = l.person and p.closed_at is null where l.id = $1`,
);
/** null: there is none, or its person may not act any more. */
export const readAcceptLink = (queries: Queries, id: number): Promise<AcceptLinkRow | null> =>
  queries.maybe(READ, [id]);

const TRIM = statement('accept-links-trim', 'delete from accept_links where expires_at < $1');
export const trimAcceptLinks = (queries: Queries, now: Instant): Promise<number> =>
  queries.run(TRIM, [timeParameter(now)]);
