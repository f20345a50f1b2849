import Type from 'typebox';
import { seconds, type Instant } from '../../shared/base/instant.ts';
import { PerformanceAnswer, SuggestionsAnswer } from '../../shared/wire/performance-answer.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { readPerformance, readSuggestions } from '../alarms/performance.ts';
import type { Service } from '../service.ts';
import { sitesOf } from './access.ts';
import type { App } from './app.ts';
import { From, instantOrNull, SiteParameter, Slug, To } from './query.ts';
import { Refusal } from './refusal.ts';

/** How alarms perform over 30 days or another stretch, and what other delays would have spared (handbook 7). */
const SEE = { action: 'see-sites' } as const;
const STANDARD = seconds(30 * 86_400);
const LONGEST = seconds(92 * 86_400);
const stretch = { from: From, to: To };

export function performanceRoutes(app: App, service: Service): void {
  const schema = {
    querystring: Type.Object({ site: Type.Optional(Slug), ...stretch }),
    response: { 200: PerformanceAnswer, 400: Problem, 404: Problem },
  };
  app.get('/alarms/performance', { schema, config: SEE }, (request) => {
    const { query } = request;
    const site = query.site ?? null;
    return readPerformance(service, stretchIn(query, service.now()), { site, scope: sitesOf(request) });
  });
  // one at a time: each lives a month of a site some ten times over
  let running: Promise<unknown> = Promise.resolve();
  const suggestions = {
    params: SiteParameter,
    querystring: Type.Object(stretch),
    response: { 200: SuggestionsAnswer, 400: Problem, 404: Problem },
  };
  app.get('/sites/:site/alarm-suggestions', { schema: suggestions, config: SEE }, async (request) => {
    const { params, query } = request;
    const asked = stretchIn(query, service.now());
    const answer = running.then(() => readSuggestions(service, params.site, asked));
    running = answer.catch(() => null);
    const found = await answer;
    if (found === null) throw new Refusal('not-found', `There is no site "${params.site}".`);
    return found;
  });
}

function stretchIn(query: { from?: string; to?: string }, now: Instant) {
  const to = instantOrNull('to', query.to) ?? now;
  const from = instantOrNull('from', query.from) ?? to - STANDARD;
  const fault = (pointer: string, message: string) =>
    new Refusal('bad-request', message, [{ pointer, message }]);
  if (from >= to) throw fault('/to', 'Give an instant after "from".');
  if (to - from > LONGEST) throw fault('/from', 'Give a stretch of 92 days at most.');
  return { from, to };
}
