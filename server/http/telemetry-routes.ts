import Type from 'typebox';
import { choice } from '../../shared/wire/schema.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { TELEMETRY_STATES, TelemetryAnswer } from '../../shared/wire/telemetry.ts';
import type { Service } from '../service.ts';
import { readAllTelemetry, readSiteTelemetry } from '../telemetry/read-telemetry.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { Cursor, limit, readCursor, Slug, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** How telemetry comes in. */
export function telemetryRoutes(app: App, service: Service): void {
  const schema = {
    querystring: Type.Object({
      site: Type.Optional(Slug),
      state: Type.Optional(choice(...TELEMETRY_STATES)),
      q: Type.Optional(Type.String({ maxLength: 100 })),
      cursor: Cursor,
      limit: limit(100, 500),
    }),
    response: { 200: TelemetryAnswer, 400: Problem, 404: Problem },
  };
  app.get('/telemetry', { schema, config: { action: 'see-telemetry' } }, async (request) => {
    const { site, state, q, cursor } = request.query;
    const count = request.query.limit ?? 100;
    if (site === undefined) {
      const after = readCursor(cursor, (place) => typeof place === 'string') ?? '';
      return withCursor(
        await readAllTelemetry(service, { after, limit: count, only: sitesOf(request) }),
        String,
      );
    }
    const skip =
      readCursor(cursor, (place): place is number => Number.isInteger(place) && (place as number) >= 0) ?? 0;
    const answer = await readSiteTelemetry(service, {
      ...{ site, skip, limit: count },
      state: state ?? null,
      holds: q ?? '',
    });
    if (!answer) throw new Refusal('not-found', `There is no site "${site}".`);
    return withCursor(answer, Number);
  });
}

const withCursor = (answer: TelemetryAnswer, place: (text: string) => unknown): TelemetryAnswer => ({
  ...answer,
  cursor: answer.cursor === null ? null : writeCursor(place(answer.cursor)),
});
