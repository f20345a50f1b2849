import Type from 'typebox';
import { deleteWithTraces, readBegunBy, type BegunSite } from '../../db/demonstration.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { DemonstrationAnswer, DemonstrationRemoved } from '../../shared/wire/demonstration.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { Refusal } from './refusal.ts';
import { DEMONSTRATION } from './site-routes.ts';

/** The demonstration: which sites are of it, and all of it removed with one press. */
export function demonstrationRoutes(app: App, service: Service): void {
  const config = { action: 'remove-demonstration' } as const;
  const { demonstration } = service;
  app.get('/demonstration', { schema: { response: { 200: DemonstrationAnswer } }, config }, async () => {
    const removedAt = (await demonstration?.removedAt()) ?? null;
    return {
      state: stateOf(demonstration?.isTold ?? false, removedAt),
      removedAt: wireInstant(removedAt),
      sites: (await readSites(service)).map(answerOf),
    };
  });

  const schema = {
    querystring: Type.Object({
      also: Type.Optional(
        Type.String({
          maxLength: 1000,
          description:
            'ids, with commas between them, of sites that somebody has changed and that are to go, too',
        }),
      ),
    }),
    response: { 200: DemonstrationRemoved, 400: Problem },
  };
  app.delete('/demonstration', { schema, config }, async ({ query, audited }) => {
    const also = (query.also ?? '').split(',').filter(Boolean);
    const sites = await readSites(service);
    refuseOthers(also, sites);
    const remove = () => removeSites(service, also);
    const { removed, kept } = demonstration
      ? await demonstration.remove(service.database, remove)
      : await remove();
    service.follower?.nudge();
    service.alarmsChanged();
    audited.detail = { removed: removed.map(({ id }) => id), kept: kept.map(({ id }) => id) };
    return {
      removed: removed.map(({ id, name }) => ({ id, name })),
      kept: kept.map(answerOf),
      says: saysOf(removed, kept),
    };
  });
}

const stateOf = (isTold: boolean, removedAt: Instant | null): DemonstrationAnswer['state'] => {
  if (isTold) return 'told';
  return removedAt === null ? 'not-told' : 'removed';
};

type Named = BegunSite & { readonly name: string };

async function readSites({ database, setups, now }: Service): Promise<Named[]> {
  const named: Named[] = [];
  for (const begun of await readBegunBy(database, DEMONSTRATION)) {
    const setup = await setups.read(database, begun.id);
    if (setup) named.push({ ...begun, name: siteAt(setup.history, now())!.name });
  }
  return named;
}

/** Looked at anew, once nothing is told any more: whoever saved one meanwhile keeps it. */
async function removeSites(
  service: Service,
  also: readonly string[],
): Promise<{ removed: Named[]; kept: Named[]; points: number[] }> {
  const removed: Named[] = [];
  const kept: Named[] = [];
  const points: number[] = [];
  for (const site of await readSites(service)) {
    if (site.changedBy !== null && !also.includes(site.id)) {
      kept.push(site);
      continue;
    }
    const gone = await deleteWithTraces(service.database, { site: site.id, root: service.telemetryRoot });
    points.push(...(gone ?? []));
    removed.push(site);
  }
  return { removed, kept, points };
}

function refuseOthers(also: readonly string[], sites: readonly Named[]): void {
  const other = also.find((id) => !sites.some((site) => site.id === id));
  if (other === undefined) return;
  throw new Refusal('bad-request', `“${other}” isn’t a site of the demonstration.`, [
    { pointer: '/also', message: 'Name sites that the demonstration began, or leave it out.' },
  ]);
}

const answerOf = ({ id, name, changedBy, changedAt }: Named) => ({
  ...{ id, name, changedBy },
  changedAt: wireInstant(changedAt),
});

function saysOf(removed: readonly Named[], kept: readonly Named[]): string {
  const names = (sites: readonly Named[]) => sites.map(({ name }) => name).join(', ');
  const gone = removed.length === 0 ? 'There was nothing to remove.' : `Removed: ${names(removed)}.`;
  if (kept.length === 0) return gone;
  const by = [...new Set(kept.map(({ changedBy }) => changedBy))].join(', ');
  return `${gone} Kept, because changed by ${by}: ${names(kept)}. Nothing more is told of what was kept.`;
}
