import Type from 'typebox';
import { readExtent } from '../../db/read-extent.ts';
import { readSavedDocument, readSaves } from '../../db/site-saves.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { ReinferenceAnswer, SiteSaveList } from '../../shared/wire/service.ts';
import { SiteDocument } from '../../shared/wire/site-document.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { Cursor, limit, readCursor, SiteParameter, Slug, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';
import { fromOf, setupOf } from './site-routes.ts';

/** What whoever changes a site looks at besides: what was ever saved, and what a save would infer again. */
export function siteEditRoutes(app: App, service: Service): void {
  savesRoutes(app, service);
  reinferenceRoute(app, service);
}

const SEE = { action: 'see-sites' } as const;

function savesRoutes(app: App, service: Service): void {
  const list = {
    params: SiteParameter,
    querystring: Type.Object({ cursor: Cursor, limit: limit(50, 200) }),
    response: { 200: SiteSaveList, 400: Problem, 404: Problem },
  };
  app.get('/sites/:site/saves', { schema: list, config: SEE }, async ({ params, query }) => {
    await setupOf(service, params.site);
    const count = query.limit ?? 50;
    const before = readCursor(query.cursor, (place) => typeof place === 'number');
    const rows = await readSaves(service.database, params.site, { before, limit: count + 1 });
    const items = rows.slice(0, count).map(({ id, revision, from, putAt, putBy, holds }) => ({
      id: String(id),
      revision,
      from: wireInstant(from) ?? 'always',
      putAt: wireInstant(putAt) ?? '',
      putBy,
      holds,
    }));
    return { items, cursor: rows.length > count ? writeCursor(rows[count - 1]!.id) : null };
  });

  const one = {
    params: Type.Object({ site: Slug, save: Type.String({ pattern: '^[0-9]{1,15}$' }) }),
    response: { 200: SiteDocument, 404: Problem },
  };
  app.get('/sites/:site/saves/:save', { schema: one, config: SEE }, async ({ params }) => {
    const document = await readSavedDocument(service.database, params.site, Number(params.save));
    if (document === null) throw new Refusal('not-found', 'Nothing was saved under that number here.');
    return document as SiteDocument;
  });
}

function reinferenceRoute(app: App, service: Service): void {
  const schema = {
    params: SiteParameter,
    querystring: Type.Object({
      from: Type.String({ maxLength: 40, description: 'an instant, `always` or `now`' }),
    }),
    response: { 200: ReinferenceAnswer, 400: Problem, 404: Problem },
  };
  app.get('/sites/:site/reinference', { schema, config: SEE }, async ({ params, query }) => {
    const { documents } = await setupOf(service, params.site);
    const after = fromOf(query.from, service.now());
    const { rows, from, to } = await inSnapshot(service.database, (queries) =>
      readExtent(queries, params.site, after),
    );
    const rowsPerSecond = service.follower?.rate.rowsPerSecond() ?? null;
    return {
      rows,
      from: wireInstant(from),
      to: wireInstant(to),
      rowsPerSecond,
      seconds: rowsPerSecond === null ? null : rows / rowsPerSecond,
      givesWay: documents
        .filter((one) => one.from >= after)
        .map((one) => ({
          from: wireInstant(one.from) ?? 'always',
          putAt: wireInstant(one.putAt ?? null) ?? '',
          putBy: one.putBy ?? '',
        })),
    };
  });
}
