import { randomUUID } from 'node:crypto';
import { startEscalation, stopEscalation } from '../../db/escalations.ts';
import { readPolicyOf } from '../../db/policies.ts';
import type { Database, Queries } from '../../db/pool.ts';
import { answerDrill, keepDrill, readDrilled, type ProofSessionRow } from '../../db/proofs.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import type { Setups } from '../follow/setup.ts';
import { DRILL, isDrill, type DrillFacts } from '../notify/drill-message.ts';
import { Refusal } from '../http/refusal.ts';

/**
 * The drill of a proof session: a notice marked TEST that takes the way of a critical alarm of this site, policy, rosters and
 * channels, and ends when somebody answers it. It is no alarm: it stands in no list of them, and no figure counts it.
 */
export async function sendDrill(database: Database, session: ProofSessionRow, now: Instant): Promise<void> {
  await database.transaction({ name: 'drill' }, async (queries) => {
    if ((await readPolicyOf(queries, session.site)) === null)
      throw new Refusal(
        'not-now',
        'This site has no policy: nobody would be told. Set up its on-call first.',
      );
    if (session.drill !== null)
      await stopEscalation(queries, { alarm: session.drill, why: 'sent anew', cleared: false }, now);
    const drill = `${DRILL}${randomUUID()}`;
    await keepDrill(queries, session.id, drill, now);
    await startEscalation(queries, { alarm: drill, site: session.site, severity: 'critical' }, now);
  });
}

/** By the link in its message or on the page. */
export async function answerTest(queries: Queries, drill: string, by: string, now: Instant): Promise<void> {
  await answerDrill(queries, drill, now, by);
  await stopEscalation(queries, { alarm: drill, why: 'answered', cleared: false }, now);
}

export async function readDrillFacts(
  queries: Queries,
  { setups, now }: { readonly setups: Setups; readonly now: () => Instant },
  alarm: string,
): Promise<DrillFacts | null> {
  if (!isDrill(alarm)) return null;
  const session = await readDrilled(queries, alarm);
  const setup = session && (await setups.read(queries, session.site));
  const site = setup && siteAt(setup.history, now());
  if (!session || !site) return null;
  return { kind: 'drill', site: { id: site.id, name: site.name || site.id }, by: session.by };
}
