import { readFloor } from '../db/floor.ts';
import { readTopicsListened } from '../db/heard-topics.ts';
import { readLives } from '../db/gateway-lives.ts';
import { readDeviceIds } from '../db/points.ts';
import type { Database } from '../db/pool.ts';
import {
  readConfigurationRevision,
  readSiteHistory,
  readSiteIds,
  readSitesChangedSince,
} from '../db/site-history.ts';
import { catalogueOf, knownSite, type Catalogue, type KnownSite } from './catalogue.ts';

export const NOTHING_KNOWN: Catalogue = catalogueOf(-1, new Map());

/**
 * The catalogue brought up to date: only sites that changed since `before` are read again. Read in one snapshot, so that
 * it is exactly what its revision says.
 */
export function readCatalogue(database: Database, before: Catalogue): Promise<Catalogue> {
  const how = { name: 'read-catalogue', isolation: 'repeatable read', readOnly: true } as const;
  return database.transaction(how, async (queries) => {
    const revision = await readConfigurationRevision(queries);
    const sites = new Map<string, KnownSite>();
    for (const id of await readSiteIds(queries)) {
      const known = before.sites.get(id);
      if (known) sites.set(id, known);
    }
    for (const { id } of await readSitesChangedSince(queries, before.revision)) {
      const history = await readSiteHistory(queries, id);
      sites.set(id, knownSite(id, history, await readDeviceIds(queries, id)));
    }
    const floor = await readFloor(queries);
    return catalogueOf(
      revision,
      sites,
      await readLives(queries),
      await readTopicsListened(queries),
      floor?.at,
    );
  });
}
