import type { SiteHistory } from '../shared/telemetry/site.ts';
import { parseConfiguration } from '../shared/wire/configuration.ts';
import { statement, type Queries } from './pool.ts';
import { readDocuments, type DatedDocument } from './read-history.ts';

/** Stored documents as a history, oldest first. A stored document that no longer parses is a defect of ours. */
export function historyOf(site: string, documents: readonly DatedDocument[]): SiteHistory {
  return documents.map(({ from, document }) => {
    const parsed = parseConfiguration(site, document);
    if (parsed.ok) return { from, site: parsed.site };
    const fault = parsed.faults[0];
    throw new Error(`${site}: a stored document has a fault at "${fault?.pointer}": ${fault?.message}`);
  });
}

export const readSiteHistory = async (queries: Queries, site: string): Promise<SiteHistory> =>
  historyOf(site, await readDocuments(queries, site));

const REVISION = statement('configuration-revision', 'select revision from configuration');

/** Raised by every change of any site's configuration. */
export const readConfigurationRevision = async (queries: Queries): Promise<number> =>
  (await queries.one<{ revision: number }>(REVISION)).revision;

const CHANGED = statement(
  'sites-changed-since',
  'select id, revision from sites where revision > $1 order by revision, id',
);
const SITES = statement('sites-all', 'select id from sites');

export interface SiteRevision {
  readonly id: string;
  readonly revision: number;
}

/** The sites whose configuration changed after a revision; those that were deleted are told by `readSiteIds`. */
export const readSitesChangedSince = (queries: Queries, revision: number): Promise<SiteRevision[]> =>
  queries.many(CHANGED, [revision]);

export const readSiteIds = async (queries: Queries): Promise<string[]> =>
  (await queries.many<{ id: string }>(SITES)).map(({ id }) => id);
