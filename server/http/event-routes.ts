import Type from 'typebox';
import { readEvent, readEvents, readRevisions } from '../../db/read-events.ts';
import { EVENT_KINDS, EventAnswer, EventList } from '../../shared/wire/event-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireRevision } from '../../shared/wire/revision-wire.ts';
import type { Service } from '../service.ts';
import { answerOf } from '../status/read-status.ts';
import { refuseOutOfScope, sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Cursor, From, instantOrNull, limit, isByStart, readCursor, Slug, To, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** Events: those that touch a stretch of time, oldest first; one by its id, or by that of one that it replaced. */
export function eventRoutes(app: App, service: Service): void {
  const list = {
    querystring: Type.Object({
      site: Type.Optional(Slug),
      space: Type.Optional(Slug),
      panel: Type.Optional(Slug),
      unit: Type.Optional(Slug),
      kind: Type.Optional(Type.String({ maxLength: 600, description: 'one kind, or several with commas' })),
      from: From,
      to: To,
      cursor: Cursor,
      limit: limit(200, 2000),
    }),
    response: { 200: EventList, 400: Problem },
  };
  app.get('/events', { schema: list, config: { action: 'see-sites' } }, async (request) => {
    const { query } = request;
    const count = query.limit ?? 200;
    const rows = await readEvents(service.database, {
      site: query.site ?? null,
      only: sitesOf(request),
      space: query.space ?? null,
      panel: query.panel ?? null,
      unit: query.unit ?? null,
      kinds: query.kind === undefined ? null : kindsOf(query.kind),
      from: instantOrNull('from', query.from),
      to: instantOrNull('to', query.to),
      after: readCursor(query.cursor, isByStart),
      limit: count + 1,
    });
    const items = rows.slice(0, count);
    const last = items.at(-1)?.event;
    const cursor =
      rows.length > count && last ? writeCursor({ start: last.start.latest, id: last.id }) : null;
    return { items: items.map(answerOf), cursor };
  });

  const one = {
    params: Type.Object({ id: Type.String({ maxLength: 100 }) }),
    response: { 200: EventAnswer, 404: Problem },
  };
  app.get('/events/:id', { schema: one, config: { action: 'see-sites' } }, async (request) => {
    const { id } = request.params;
    const found = await readEvent(service.database, id);
    const says = `There is no event "${id}".`;
    if (!found) throw new Refusal('not-found', says);
    refuseOutOfScope(request, found.event.site, says);
    const revisions = await readRevisions(service.database, found.event.id);
    return { ...answerOf(found), history: revisions.map(wireRevision) };
  });
}

function kindsOf(text: string): string[] {
  const kinds = text.split(',').map((kind) => kind.trim());
  const unknown = kinds.find((kind) => !(EVENT_KINDS as readonly string[]).includes(kind));
  if (unknown === undefined) return kinds;
  throw new Refusal('bad-request', `There is no kind of event "${unknown}".`, [
    { pointer: '/kind', message: `Give one or several of ${EVENT_KINDS.join(', ')}.` },
  ]);
}
