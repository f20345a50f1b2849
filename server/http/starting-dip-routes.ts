import Type from 'typebox';
import { seconds } from '../../shared/base/instant.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { StartingDipsAnswer } from '../../shared/wire/starting-dips-answer.ts';
import type { Bounds } from '../../shared/base/span.ts';
import { answerStartingDips } from '../starting-dips/answer-starting-dips.ts';
import { readPanelStarts } from '../starting-dips/read-starting-dips.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { From, stretchOf, To } from './query.ts';
import { PanelParameter, panelOf } from './recording-routes.ts';
import { Refusal } from './refusal.ts';
import { formatInstant } from '../../shared/base/instant.ts';

const A_WEEK = seconds(7 * 86_400);
const LONGEST = seconds(92 * 86_400);
/** Transient reactance where none is said, per unit [from memory; a setting]. */
const USUAL_REACTANCE: Bounds = [0.15, 0.35];

/** What starts do to a panel's voltage (handbook 5.5), and each unit's undervoltage start grace (5.6). */
export function startingDipRoutes(app: App, service: Service): void {
  const schema = {
    params: PanelParameter,
    querystring: Type.Object({
      from: From,
      to: To,
      generatorKva: Type.Optional(Type.Number({ minimum: 0.1, maximum: 100_000 })),
      transientReactance: Type.Optional(
        Type.Number({ minimum: 0.01, maximum: 1, description: 'X′d per unit; left out: 0.15 to 0.35' }),
      ),
    }),
    response: { 200: StartingDipsAnswer, 400: Problem, 404: Problem },
  };
  app.get(
    '/panels/:site/:panel/starting-dips',
    { schema, config: { action: 'see-sites' } },
    async ({ params, query }) => {
      const { setup, panel } = await panelOf(service, params);
      const now = service.now();
      const stretch = stretchOf({
        from: query.from ?? formatInstant(now - A_WEEK),
        to: query.to ?? formatInstant(now),
      });
      if (stretch.to - stretch.from > LONGEST)
        throw new Refusal('bad-request', 'That stretch is too long.', [
          { pointer: '/from', message: 'Ask for at most 92 days.' },
        ]);
      const site = setup.history.at(-1)!.site;
      const found = await inSnapshot(service.database, (queries) =>
        readPanelStarts(queries, setup, site, panel, stretch),
      );
      const { generatorKva, transientReactance } = query;
      const ratedKva = generatorKva ?? panel.generator?.ratedKva;
      const known = transientReactance ?? panel.generator?.transientReactance ?? null;
      const reactance = known === null ? USUAL_REACTANCE : ([known, known] as const);
      const generator = ratedKva === undefined ? null : { ratedKva, transientReactance: reactance };
      const units = site.units.filter((unit) => unit.panel === panel.id);
      return answerStartingDips({ site: setup.id, panel, units, stretch, generator, now }, found);
    },
  );
}
