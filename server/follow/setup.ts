import { readDeviceIds } from '../../db/points.ts';
import type { Queries } from '../../db/pool.ts';
import { readDocuments, readRevisions, readSiteRevision, type DatedDocument } from '../../db/read-history.ts';
import type { DeviceIds } from '../../db/record.ts';
import { historyOf } from '../../db/site-history.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';

/** Everything about a site that a fold and a page are given beside the record. */
export interface Setup {
  readonly id: string;
  readonly revision: number;
  readonly documents: readonly DatedDocument[];
  readonly history: SiteHistory;
  readonly ids: DeviceIds;
}

/** Setups by site, read again when the site's revision has moved; at most `SITES_KEPT` of them. */
export interface Setups {
  /** as of the transaction's snapshot; null: there is no such site */
  read(queries: Queries, site: string): Promise<Setup | null>;
  /** those of many sites, with one question where nothing has changed; in order of id, after the one named. `only`: of these */
  readMany(queries: Queries, after: string, limit: number, only?: readonly string[] | null): Promise<Setup[]>;
  /** the history last read, without asking; null: none was */
  readonly known: (site: string) => SiteHistory | null;
}

export const SITES_KEPT = 2000;

export function makeSetups(): Setups {
  const kept = new Map<string, Setup>();

  async function at(queries: Queries, id: string, revision: number): Promise<Setup> {
    const known = kept.get(id);
    if (known?.revision === revision) return known;
    const documents = await readDocuments(queries, id);
    const ids = await readDeviceIds(queries, id);
    const setup = { id, revision, documents, history: historyOf(id, documents), ids };
    kept.delete(id);
    kept.set(id, setup);
    if (kept.size > SITES_KEPT) kept.delete(kept.keys().next().value!);
    return setup;
  }

  return {
    known: (site) => kept.get(site)?.history ?? null,
    async read(queries, site) {
      const revision = await readSiteRevision(queries, site);
      return revision === null ? null : at(queries, site, revision);
    },
    async readMany(queries, after, limit, only = null) {
      const setups: Setup[] = [];
      for (const { id, revision } of await readRevisions(queries, { after, limit, only }))
        setups.push(await at(queries, id, revision));
      return setups;
    },
  };
}
