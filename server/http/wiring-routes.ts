import Type from 'typebox';
import {
  HEARD_ROWS,
  ignoreHeard,
  listenToTopics,
  readHeard,
  readTopicsListened,
} from '../../db/heard-topics.ts';
import { formatInstant } from '../../shared/base/instant.ts';
import { siteAt } from '../../shared/telemetry/site.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { SiteDocument } from '../../shared/wire/site-document.ts';
import { IgnoreAsk, ListeningAsk, WiringAnswer, type HeardAnswer } from '../../shared/wire/wiring.ts';
import { guess, placesOf, type Guess } from '../../shared/wiring/guess.ts';
import { ratePerMinute, type HeardValue } from '../../shared/wiring/heard.ts';
import { allPoints } from '../series/pieces.ts';
import type { Setup } from '../follow/setup.ts';
import type { Service } from '../service.ts';
import type { App } from './app.ts';
import { SiteParameter } from './query.ts';
import { Refusal } from './refusal.ts';
import { documentAt, setupOf } from './site-routes.ts';

/** What is talking and not mapped, what it may be; listening to topics that aren't ours, for a while. */
export function wiringRoutes(app: App, service: Service): void {
  const read = { params: SiteParameter, response: { 200: WiringAnswer, 404: Problem } };
  app.get(
    '/sites/:site/wiring',
    { schema: read, config: { action: 'see-wiring' } },
    async ({ params, actor }) => {
      const setup = await setupOf(service, params.site);
      // what isn't below a site of ours belongs to none: it is for those who may see all
      const below = actor.sites === 'all' ? null : `${service.telemetryRoot}/${setup.id}`;
      const rows = await readHeard<HeardValue>(service.database, below);
      const listening = await readTopicsListened(service.database);
      return {
        serverTime: formatInstant(service.now()),
        listening: listening && {
          ...listening,
          filters: [...listening.filters],
          until: formatInstant(listening.until),
        },
        items: answers(service, setup, rows),
        isFull: rows.length >= HEARD_ROWS,
      };
    },
  );

  const listen = { body: ListeningAsk, response: { 204: Type.Null(), 400: Problem } };
  app.post(
    '/listening',
    { schema: listen, config: { action: 'listen-to-topics' } },
    async ({ body, actor, audited }, reply) => {
      refuseOwn(service.telemetryRoot, body.filters);
      await listenToTopics(service.database, {
        filters: body.filters,
        seconds: body.minutes * 60,
        by: actor.name,
      });
      audited.detail = { filters: body.filters, minutes: body.minutes };
      return reply.code(204).send(null);
    },
  );
  const end = { response: { 204: Type.Null() } };
  app.delete('/listening', { schema: end, config: { action: 'listen-to-topics' } }, async (_, reply) => {
    await listenToTopics(service.database, null);
    return reply.code(204).send(null);
  });

  const ignore = { params: SiteParameter, body: IgnoreAsk, response: { 204: Type.Null(), 404: Problem } };
  app.post(
    '/sites/:site/wiring/ignore',
    { schema: ignore, config: { action: 'change-sites' } },
    async ({ params, body, actor }, reply) => {
      await setupOf(service, params.site);
      const isOwn = body.topic.startsWith(`${service.telemetryRoot}/${params.site}/`);
      const found =
        (isOwn || actor.sites === 'all') &&
        (await ignoreHeard(service.database, { ...body, by: actor.name }));
      if (!found) throw new Refusal('not-found', 'Nothing like that was heard.');
      return reply.code(204).send(null);
    },
  );
}

/** Our own topics are heard as they are: listened to a second time, each message would come twice. */
function refuseOwn(root: string, filters: readonly string[]): void {
  const at = filters.findIndex((filter) => filter.split('/')[0] === root.split('/')[0]);
  if (at < 0) return;
  throw new Refusal('bad-request', `Everything below “${root}” is heard already.`, [
    { pointer: `/filters/${at}`, message: 'Name topics that begin with another word.' },
  ]);
}

type Row = Awaited<ReturnType<typeof readHeard<HeardValue>>>[number];

function answers(service: Service, setup: Setup, rows: readonly Row[]): HeardAnswer[] {
  const site = siteAt(setup.history, service.now())!;
  const document = documentAt(setup, service.now()) as SiteDocument;
  const own = `${service.telemetryRoot}/${setup.id}/`;
  const mapped = new Set(
    allPoints(site).flatMap(({ device, signal, source, sparkplug }) => [
      `${own}${device}/${signal} `,
      ...(source ? [`${source.topic} ${source.pointer}`] : []),
      ...(sparkplug === null ? [] : [`${sparkplug} `]),
    ]),
  );
  // what lies below another site of ours is that one's
  const isHere = (topic: string) => !topic.startsWith(`${service.telemetryRoot}/`) || topic.startsWith(own);
  const left = rows.filter(({ topic, pointer }) => isHere(topic) && !mapped.has(`${topic} ${pointer}`));
  const places = placesOf(document);
  const nominalVoltages = site.panels.map(({ nominalVoltage }) => nominalVoltage);
  const contacts = left.map(({ body }) => body).filter(({ form }) => form === 'contact');
  const near = groupsOf(contacts);
  return left.map(({ body, ignoredBy }) => {
    const around = { contacts: near.get(groupOf(body.topic)) ?? [], nominalVoltages };
    return heardAnswer(body, ignoredBy, guess(body, places, around));
  });
}

/** Contacts are compared with those that share all but the last two levels of their topic: a gateway's, or a unit's. */
const groupOf = (topic: string): string => topic.split('/').slice(0, -2).join('/');

function groupsOf(contacts: readonly HeardValue[]): Map<string, HeardValue[]> {
  const groups = new Map<string, HeardValue[]>();
  for (const one of contacts) {
    const group = groups.get(groupOf(one.topic));
    if (group) group.push(one);
    else groups.set(groupOf(one.topic), [one]);
  }
  return groups;
}

function heardAnswer(heard: HeardValue, ignoredBy: string | null, said: Guess | null): HeardAnswer {
  const { topic, kind, pointer, time, count, firstAt, lastAt, last, form, numbers } = heard;
  return {
    ...{ topic, kind, pointer, time, count, last, form, ignoredBy },
    ...{ firstAt: formatInstant(firstAt), lastAt: formatInstant(lastAt) },
    perMinute: ratePerMinute(heard),
    least: numbers?.least ?? null,
    most: numbers?.most ?? null,
    steps: numbers?.steps ?? 0,
    guess: said && { ...said },
  };
}
