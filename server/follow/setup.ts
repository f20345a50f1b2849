import { readDeviceIds } from '../../db/points.ts';
import type { Queries } from '../../db/pool.ts';
import { readDocuments, readSiteRevision } from '../../db/read-history.ts';
import type { DeviceIds } from '../../db/record.ts';
import type { SiteHistory } from '../../shared/telemetry/site.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';

/** Everything about a site that a fold is given beside the record. */
export interface Setup {
  readonly revision: number;
  readonly history: SiteHistory;
  readonly ids: DeviceIds;
}

/** Setups by site, read again when the site's revision has moved; at most `SITES_KEPT` of them. */
export interface Setups {
  /** as of the transaction's snapshot; null: there is no such site */
  read(queries: Queries, site: string): Promise<Setup | null>;
  /** the history last read, without asking; null: none was */
  readonly known: (site: string) => SiteHistory | null;
}

const SITES_KEPT = 1000;

export function makeSetups(): Setups {
  const kept = new Map<string, Setup>();
  return {
    known: (site) => kept.get(site)?.history ?? null,
    async read(queries, site) {
      const revision = await readSiteRevision(queries, site);
      if (revision === null) return null;
      const known = kept.get(site);
      if (known?.revision === revision) return known;
      const setup = {
        revision,
        history: await readHistory(queries, site),
        ids: await readDeviceIds(queries, site),
      };
      kept.delete(site);
      kept.set(site, setup);
      if (kept.size > SITES_KEPT) kept.delete(kept.keys().next().value!);
      return setup;
    },
  };
}

/** A document that was taken in but no longer parses is a defect of ours, and stops its site's folds with the reason. */
async function readHistory(queries: Queries, site: string): Promise<SiteHistory> {
  const documents = await readDocuments(queries, site);
  return documents.map(({ from, document }) => {
    const parsed = parseConfiguration(site, document);
    if (!parsed.ok)
      throw new Error(
        `${site}: a stored document has faults: ${parsed.faults[0]?.pointer} ${parsed.faults[0]?.message}`,
      );
    return { from, site: parsed.site };
  });
}
