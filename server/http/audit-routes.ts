import Type from 'typebox';
import { readAudit } from '../../db/audit.ts';
import { timeOrNull } from '../../db/values.ts';
import { AuditList } from '../../shared/wire/account.ts';
import { ACTIONS } from '../../shared/wire/may.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { choice } from '../../shared/wire/schema.ts';
import type { Accounts } from '../accounts/accounts.ts';
import { auditAnswer } from './account-wire.ts';
import type { App } from './app.ts';
import { Cursor, From, instantOrNull, limit, readCursor, Slug, To, writeCursor } from './query.ts';

/** The audit trail, newest first. Nothing takes a row out but its age and the trail's bound. */
export function auditRoutes(app: App, { database }: Accounts): void {
  const schema = {
    querystring: Type.Object({
      actor: Type.Optional(Type.String({ maxLength: 100 })),
      about: Type.Optional(Slug),
      action: Type.Optional(choice(...ACTIONS)),
      from: From,
      to: To,
      cursor: Cursor,
      limit: limit(100, 1000),
    }),
    response: { 200: AuditList, 400: Problem },
  };
  app.get('/audit', { schema, config: { action: 'read-audit' } }, async ({ query }) => {
    const count = query.limit ?? 100;
    const rows = await readAudit(database, {
      actor: query.actor ?? null,
      site: query.about ?? null,
      action: query.action ?? null,
      from: timeOrNull(instantOrNull('from', query.from)),
      to: timeOrNull(instantOrNull('to', query.to)),
      before: readCursor(query.cursor, (place): place is number => typeof place === 'number'),
      limit: count + 1,
    });
    const items = rows.slice(0, count);
    return {
      items: items.map(auditAnswer),
      cursor: rows.length > count ? writeCursor(items.at(-1)!.id) : null,
    };
  });
}
