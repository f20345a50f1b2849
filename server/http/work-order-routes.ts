import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import { readWorkOrder } from '../stagger/work-order.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { Pdf, sendPdf } from './files.ts';
import { SiteParameter } from './query.ts';
import { Refusal } from './refusal.ts';

/** The work order of a visit, on paper: what is agreed to be set at a site. */
export function workOrderRoute(app: App, service: Service): void {
  const schema = {
    params: SiteParameter,
    response: { 200: Pdf, 404: Problem },
  };
  const config = { action: 'record-settings' } as const;
  app.get('/sites/:site/work-order', { schema, config }, async ({ params }, reply) => {
    const asked = await inSnapshot(service.database, async (queries) => {
      const setup = await service.setups.read(queries, params.site);
      if (!setup) throw new Refusal('not-found', `There is no site "${params.site}".`);
      return readWorkOrder(queries, setup, service.now());
    });
    if (!asked) throw new Refusal('not-found', 'Nothing is agreed to be set at this site.');
    return sendPdf(reply, `work-order-${params.site}`, asked);
  });
}
