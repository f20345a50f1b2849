import { amendSite } from '../../db/sites.ts';
import type { Database } from '../../db/pool.ts';
import type { Instant } from '../../shared/base/instant.ts';
import type { Correction } from '../../shared/proof/correction.ts';
import { parseConfiguration } from '../../shared/wire/configuration.ts';
import { corrected, holdsFrom } from '../../shared/wire/proof-correct.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { Refusal } from '../http/refusal.ts';

/** One press: the correction of a fault, in the document that holds and in every later one. */
export async function putCorrection(
  database: Database,
  { site, by, now }: { readonly site: string; readonly by: string; readonly now: Instant },
  correction: Correction,
): Promise<void> {
  const from = holdsFrom(correction) === 'always' ? -Infinity : now;
  await database.transaction({ name: 'correct-site' }, async (queries) => {
    const amended = await amendSite(queries, { site, from, now, by }, (document) => {
      const next = corrected(document as SiteDocument, correction);
      const parsed = parseConfiguration(site, next);
      if (!parsed.ok)
        throw new Refusal('bad-configuration', 'That can’t be put into the site’s document.', parsed.faults);
      return next;
    });
    if (!amended) throw new Refusal('not-found', `There is no site "${site}".`);
  });
}
