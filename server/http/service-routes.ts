import Type from 'typebox';
import { readBacklog, readWaitingThrough } from '../../db/follow-due.ts';
import { readClaimedClocks, type Clocks } from '../../db/follow-work.ts';
import { readRejected, readStopped, type RejectedRow } from '../../db/read-service.ts';
import { timeOrNull } from '../../db/values.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { isInScope } from '../../shared/wire/may.ts';
import { Problem } from '../../shared/wire/problem.ts';
import {
  HealthAnswer,
  InferenceAnswer,
  ReadyAnswer,
  RejectedList,
  type RejectedAnswer,
} from '../../shared/wire/service.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import { correctClocks } from '../follow/clocks.ts';
import type { Readiness } from '../readiness.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { payloadAnswer } from '../telemetry/payload-answer.ts';
import type { Queries } from '../../db/pool.ts';
import type { App } from './app.ts';
import { Cursor, From, instantOrNull, limit, readCursor, Slug, To, writeCursor } from './query.ts';

const HEALTH = { action: 'ask-health' } as const;

/** Health, readiness, the state of inference, and what was set aside. */
export function serviceRoutes(app: App, service: Service, readiness: Readiness): void {
  app.get('/health', { schema: { response: { 200: HealthAnswer } }, config: HEALTH }, () => ({
    ok: true as const,
    version: service.version,
    time: wireInstant(service.now())!,
  }));

  app.get(
    '/ready',
    { schema: { response: { 200: ReadyAnswer, 503: ReadyAnswer } }, config: HEALTH },
    async (_, reply) => {
      const answer = await readiness.answer();
      return reply.code(answer.ready ? 200 : 503).send(answer);
    },
  );

  const inference = {
    querystring: Type.Object({ site: Type.Optional(Slug) }),
    response: { 200: InferenceAnswer, 400: Problem },
  };
  app.get('/inference', { schema: inference, config: { action: 'see-inference' } }, async (request) => {
    const answer = await inferenceAnswer(service, request.query.site ?? null);
    const { sites } = request.actor;
    return { ...answer, stopped: answer.stopped.filter(({ site }) => isInScope(sites, site)) };
  });

  const rejected = {
    querystring: Type.Object({
      topic: Type.Optional(Type.String({ maxLength: 1024 })),
      reason: Type.Optional(Type.String({ maxLength: 100 })),
      from: From,
      to: To,
      cursor: Cursor,
      limit: limit(100, 1000),
    }),
    response: { 200: RejectedList, 400: Problem },
  };
  app.get('/rejected', { schema: rejected, config: { action: 'see-set-aside' } }, async ({ query }) => {
    const count = query.limit ?? 100;
    const rows = await readRejected(service.database, {
      topic: query.topic ?? null,
      reason: query.reason ?? null,
      from: timeOrNull(instantOrNull('from', query.from)),
      to: timeOrNull(instantOrNull('to', query.to)),
      before: readCursor(query.cursor, (place) => typeof place === 'number'),
      limit: count + 1,
    });
    const items = rows.slice(0, count);
    return {
      items: items.map(rejectedAnswer),
      cursor: rows.length > count ? writeCursor(items.at(-1)!.id) : null,
    };
  });
}

async function inferenceAnswer(service: Service, site: string | null): Promise<InferenceAnswer> {
  const { pending, through } = await inSnapshot(service.database, async (queries) => {
    const clocks = correctClocks(await readClaimedClocks(queries), service.setups.known);
    const backlog = await readBacklog(queries, clocks, site);
    return { ...backlog, through: await inferredThrough(queries, clocks, site) };
  });
  const stopped = await readStopped(service.database, site);
  return { pending, through: wireInstant(through), stopped: stopped.map((row) => ({ ...row })) };
}

/** All that was heard, but no more than a subject that waits is known through. */
async function inferredThrough(queries: Queries, clocks: Clocks, site: string | null): Promise<Instant> {
  const heard = clocks.lives.filter((life) => site === null || life.site === site).map(({ t }) => t);
  const waiting = await readWaitingThrough(queries, clocks, site);
  return Math.min(
    heard.reduce((a, b) => Math.max(a, b), -Infinity),
    waiting ?? Infinity,
  );
}

function rejectedAnswer(row: RejectedRow): RejectedAnswer {
  return {
    id: String(row.id),
    t: wireInstant(row.receivedAt)!,
    topic: row.topic,
    reason: row.reason,
    detail: row.detail,
    ...payloadAnswer(row),
  };
}
