import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';

/**
 * What was ever put into a site's configuration, also what has given way since: a journal for people, never an input of
 * inference. The newest SAVES_KEPT of each site are kept.
 */
const SAVES_KEPT = 500;

export interface SiteSave {
  readonly id: number;
  readonly revision: number;
  readonly from: Instant;
  readonly putAt: Instant;
  readonly putBy: string;
  /** it holds from its instant on to this day; false: another has taken its place */
  readonly holds: boolean;
}

const NOTE = statement(
  'site-saves-note',
  `insert into site_saves (site, revision, from_at, document, put_at, put_by)
   select site, $2, from_at, document, put_at, put_by from site_documents
   where site = $1 and put_at = now() order by from_at`,
);
const FORGET = statement(
  'site-saves-forget',
  `delete from site_saves where site = $1
   and id <= (select id from site_saves where site = $1 order by id desc offset $2 limit 1)`,
);
const READ = statement(
  'site-saves-read',
  `select s.id, s.revision, s.from_at as "from", s.put_at as "putAt", s.put_by as "putBy",
     exists (select 1 from site_documents d
       where d.site = s.site and d.from_at = s.from_at and d.put_at = s.put_at) as holds
   from site_saves s where s.site = $1 and ($2::bigint is null or s.id < $2) order by s.id desc limit $3`,
);
const READ_ONE = statement('site-saves-one', 'select document from site_saves where site = $1 and id = $2');

/** Notes what this transaction has put; its documents carry the transaction's time. */
export async function noteSaves(queries: Queries, site: string, revision: number): Promise<void> {
  await queries.run(NOTE, [site, revision]);
  await queries.run(FORGET, [site, SAVES_KEPT]);
}

/** The newest first, after one of them. */
export const readSaves = (
  queries: Queries,
  site: string,
  { before, limit }: { readonly before: number | null; readonly limit: number },
): Promise<SiteSave[]> => queries.many(READ, [site, before, limit]);

/** null: no such save of this site */
export const readSavedDocument = async (queries: Queries, site: string, save: number): Promise<unknown> =>
  (await queries.maybe<{ document: unknown }>(READ_ONE, [site, save]))?.document ?? null;
