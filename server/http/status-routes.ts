import Type from 'typebox';
import { ClockList } from '../../shared/wire/clock-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { BoardAnswer, SiteStatus } from '../../shared/wire/status.ts';
import { UnitView } from '../../shared/wire/unit-view.ts';
import type { Service } from '../service.ts';
import { readClocks } from '../status/clocks.ts';
import { readBoard, readSiteStatus } from '../status/read-status.ts';
import { readUnitView } from '../status/unit-view.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Cursor, limit, readCursor, SiteParameter, Slug, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

const config = { action: 'see-sites' } as const;

/** What stands now: a site, every site, one unit with its wiring and settings. */
export function statusRoutes(app: App, service: Service): void {
  const status = { params: SiteParameter, response: { 200: SiteStatus, 404: Problem } };
  app.get('/sites/:site/status', { schema: status, config }, async ({ params }) => {
    const answer = await readSiteStatus(service, params.site);
    if (!answer) throw new Refusal('not-found', `There is no site "${params.site}".`);
    return answer;
  });

  const clocks = { params: SiteParameter, response: { 200: ClockList, 404: Problem } };
  app.get('/sites/:site/clocks', { schema: clocks, config }, async ({ params }) => {
    const items = await readClocks(service, params.site);
    if (!items) throw new Refusal('not-found', `There is no site "${params.site}".`);
    return { items, cursor: null };
  });

  const board = {
    querystring: Type.Object({ cursor: Cursor, limit: limit(1000, 1000) }),
    response: { 200: BoardAnswer, 400: Problem },
  };
  app.get('/board', { schema: board, config }, async (request) => {
    const { query } = request;
    const count = query.limit ?? 1000;
    const after = readCursor(query.cursor, (place) => typeof place === 'string') ?? '';
    const answer = await readBoard(service, { after, limit: count + 1, only: sitesOf(request) });
    const sites = answer.sites.slice(0, count);
    return { ...answer, sites, cursor: answer.sites.length > count ? writeCursor(sites.at(-1)!.id) : null };
  });

  const unit = {
    params: Type.Object({ site: Slug, unit: Slug }),
    response: { 200: UnitView, 404: Problem },
  };
  app.get('/sites/:site/units/:unit', { schema: unit, config }, async ({ params }) => {
    const view = await readUnitView(service, params.site, params.unit);
    if (!view) throw new Refusal('not-found', `There is no unit "${params.unit}" at "${params.site}".`);
    return view;
  });
}
