import Type from 'typebox';
import { CoolingAnswer } from '../../shared/wire/cooling-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import { readCooling } from '../status/read-cooling.ts';
import type { App } from './app.ts';
import { SiteParameter } from './query.ts';
import { Refusal } from './refusal.ts';

/** How a site is cooled: how its units cycle, how its spaces warm, what would carry them (handbook 6). */
export function coolingRoutes(app: App, service: Service): void {
  const schema = {
    params: SiteParameter,
    querystring: Type.Object({
      hours: Type.Optional(Type.Integer({ minimum: 1, maximum: 168, default: 24 })),
    }),
    response: { 200: CoolingAnswer, 400: Problem, 404: Problem },
  };
  app.get('/sites/:site/cooling', { schema, config: { action: 'see-sites' } }, async ({ params, query }) => {
    const answer = await readCooling(service, params.site, query.hours ?? 24);
    if (!answer) throw new Refusal('not-found', `There is no site "${params.site}".`);
    return answer;
  });
}
