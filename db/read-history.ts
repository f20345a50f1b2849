import type { Instant } from '../shared/base/instant.ts';
import { statement, type Queries } from './pool.ts';

/** A site's documents with the instants from which they hold, oldest first; -Infinity is `always`. */
export interface DatedDocument {
  readonly from: Instant;
  readonly document: unknown;
  readonly putAt?: Instant;
  readonly putBy?: string;
}

const REVISION = statement('history-revision', 'select revision from sites where id = $1');
const DOCUMENTS = statement(
  'history-documents',
  `select from_at as "from", document, put_at as "putAt", put_by as "putBy" from site_documents
   where site = $1 order by from_at`,
);

/** The revision at which a site last changed; null: there is no such site. */
export const readSiteRevision = async (queries: Queries, site: string): Promise<number | null> =>
  (await queries.maybe<{ revision: number }>(REVISION, [site]))?.revision ?? null;

export const readDocuments = (queries: Queries, site: string): Promise<DatedDocument[]> =>
  queries.many<DatedDocument>(DOCUMENTS, [site]);

const REVISIONS = statement(
  'history-revisions',
  'select id, revision from sites where id > $1 and ($3::text[] is null or id = any($3)) order by id limit $2',
);

/** Sites in order of their ids, after one of them, with the revision at which each last changed. `only` null: all. */
export const readRevisions = (
  queries: Queries,
  asked: { readonly after: string; readonly limit: number; readonly only: readonly string[] | null },
): Promise<{ id: string; revision: number }[]> =>
  queries.many(REVISIONS, [asked.after, asked.limit, asked.only]);
