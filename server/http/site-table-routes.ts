import Type from 'typebox';
import { TABLES, tableCsv } from '../../shared/edit/tables.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { SiteTablesAnswer, SiteTablesAsk, TABLE_NAMES } from '../../shared/wire/site-tables.ts';
import type { Service } from '../service.ts';
import { makeTableImports } from '../site-tables/table-imports.ts';
import { inSnapshot } from '../status/read-status.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Slug } from './query.ts';
import { Refusal } from './refusal.ts';
import { setupOf } from './site-routes.ts';

/** Sites, their parts and points as CSV tables, out and in. */
export function siteTableRoutes(app: App, service: Service): void {
  exportRoute(app, service);
  importRoutes(app, service);
}

const CHANGE = { action: 'change-sites' } as const;
const MOST_SITES = 10_000;

function exportRoute(app: App, service: Service): void {
  const schema = {
    querystring: Type.Object({
      table: Type.Enum([...TABLE_NAMES]),
      site: Type.Optional(Slug),
    }),
    response: { 200: Type.String({ description: 'CSV (RFC 4180)' }), 400: Problem, 404: Problem },
  };
  app.get('/export/sites', { schema, config: CHANGE }, async (request, reply) => {
    const { table: name, site } = request.query;
    const table = TABLES.find((one) => one.name === name)!;
    const setups =
      site === undefined
        ? await inSnapshot(service.database, (queries) =>
            service.setups.readMany(queries, '', MOST_SITES, sitesOf(request)),
          )
        : [await setupOf(service, site)];
    const now = service.now();
    const csv = tableCsv(
      table,
      setups.map(({ id, documents }) => ({
        site: id,
        document: (documents.findLast(({ from }) => from <= now) ?? documents[0]!).document,
      })),
    );
    return reply
      .serializer((text: string) => text)
      .type('text/csv; charset=utf-8')
      .header('content-disposition', `attachment; filename="${name}.csv"`)
      .send(csv);
  });
}

function importRoutes(app: App, service: Service): void {
  const imports = makeTableImports(service);
  const ask = { body: SiteTablesAsk, response: { 202: SiteTablesAnswer, 400: Problem, 409: Problem } };
  app.post('/import/sites', { schema: ask, config: CHANGE }, async ({ body, actor, audited }, reply) => {
    const { files, dryRun } = body;
    audited.detail = { dryRun, files: files.map(({ name }) => name) };
    return reply.code(202).send(imports.ask({ files, dryRun, actor }));
  });

  const read = {
    params: Type.Object({ import: Type.String({ format: 'uuid' }) }),
    response: { 200: SiteTablesAnswer, 404: Problem },
  };
  app.get('/import/sites/:import', { schema: read, config: CHANGE }, async ({ params, actor }) => {
    const answer = imports.read(params.import, actor);
    if (answer === null) throw new Refusal('not-found', 'There is no such import any longer.');
    return answer;
  });
}
