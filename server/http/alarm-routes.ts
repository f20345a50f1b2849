import { randomUUID } from 'node:crypto';
import Type from 'typebox';
import { readAlarm, readAlarms, readTasks, readWorks, type KeptAlarm } from '../../db/read-alarms.ts';
import type { Accepting } from '../../shared/alarms/alarm.ts';
import type { Asked } from '../../shared/alarms/machine.ts';
import { formatInstant, seconds, type Instant } from '../../shared/base/instant.ts';
import { siteAt, type Site } from '../../shared/telemetry/site.ts';
import {
  AlarmAnswer,
  AlarmAsks,
  AlarmList,
  AlarmWithJournal,
  TaskList,
  type AlarmAsk,
} from '../../shared/wire/alarm-answer.ts';
import { wireAlarm, wireTask, wireWork } from '../../shared/wire/alarm-wire.ts';
import type { Action, Actor } from '../../shared/wire/may.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import { readWithJournal } from '../alarms/with-journal.ts';
import { refuseOutOfScope, sitesOf } from './access.ts';
import type { App } from './app.ts';
import { decided } from './decided.ts';
import { performanceRoutes } from './performance-routes.ts';
import { Cursor, From, instantOrNull, limit, readCursor, Slug, To, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** Alarms with their journal and what people may do about them, and tasks (contract section 5). */
const SEE = { action: 'see-sites' } as const;

/** What of shared/wire/may.ts each wish is. */
const ACTIONS = {
  accept: 'answer-alarms',
  acknowledge: 'answer-alarms',
  note: 'answer-alarms',
  shelve: 'answer-alarms',
  unshelve: 'answer-alarms',
  close: 'answer-alarms',
  'out-of-service': 'take-alarms-out',
  'return-to-service': 'take-alarms-out',
} as const satisfies Record<AlarmAsk, Action>;

export function alarmRoutes(app: App, service: Service): void {
  listRoute(app, service);
  taskRoute(app, service);
  performanceRoutes(app, service);
  const params = Type.Object({ id: Type.String({ maxLength: 100 }) });
  const one = { params, response: { 200: AlarmWithJournal, 404: Problem } };
  app.get('/alarms/:id', { schema: one, config: SEE }, async (request) => {
    const { id } = request.params;
    const found = await withJournal(service, id);
    refuseOutOfScope(request, found.site, thereIsNo(id));
    return found;
  });
  for (const name of Object.keys(AlarmAsks) as AlarmAsk[]) askRoute(app, service, name);
}

function listRoute(app: App, service: Service): void {
  const list = {
    querystring: Type.Object({
      site: Type.Optional(Slug),
      state: Type.Optional(
        Type.String({
          pattern: '^[A-I](,[A-I])*$',
          description: 'letters of ISA-18.2 with commas; default: all but A',
        }),
      ),
      from: From,
      to: To,
      cursor: Cursor,
      limit: limit(200, 2000),
    }),
    response: { 200: AlarmList, 400: Problem },
  };
  app.get('/alarms', { schema: list, config: SEE }, async (request) => {
    const { query } = request;
    const count = query.limit ?? 200;
    const room = query.site === undefined ? 'board' : `site:${query.site}`;
    const revision = service.revisionOf(room);
    return inSnapshot(service.database, async (queries) => {
      const rows = await readAlarms(queries, {
        sites: query.site === undefined ? sitesOf(request) : [query.site],
        states: query.state?.split(',') ?? null,
        from: instantOrNull('from', query.from),
        to: instantOrNull('to', query.to),
        after: readCursor(query.cursor, isRaisedPlace),
        limit: count + 1,
      });
      const shown = rows.slice(0, count);
      const sites = await namedSites(
        service,
        queries,
        shown.map(({ alarm }) => alarm.site),
      );
      const last = shown.at(-1)?.alarm;
      const works =
        query.cursor === undefined
          ? await readWorks(queries, query.site === undefined ? sitesOf(request) : [query.site])
          : [];
      return {
        items: shown.map((kept) => wireAlarm(kept, sites.get(kept.alarm.site) ?? null)),
        cursor: rows.length > count && last ? writeCursor({ raised: last.raisedAt, id: last.id }) : null,
        works: works.map(wireWork),
        serverTime: formatInstant(service.now()),
        epoch: service.epoch,
        revision,
      };
    });
  });
}

interface RaisedPlace {
  readonly raised: Instant;
  readonly id: string;
}
const isRaisedPlace = (place: unknown): place is RaisedPlace =>
  typeof place === 'object' &&
  place !== null &&
  Number.isSafeInteger((place as RaisedPlace).raised) &&
  typeof (place as RaisedPlace).id === 'string';

type Queries = Parameters<Parameters<typeof inSnapshot>[1]>[0];

/** Sites as they are configured now, by id. */
async function namedSites(
  service: Service,
  queries: Queries,
  ids: readonly string[],
): Promise<Map<string, Site | null>> {
  const found = new Map<string, Site | null>();
  for (const id of new Set(ids)) {
    const setup = await service.setups.read(queries, id);
    found.set(id, setup && siteAt(setup.history, service.now()));
  }
  return found;
}

function taskRoute(app: App, service: Service): void {
  const tasks = {
    querystring: Type.Object({
      site: Type.Optional(Slug),
      closed: Type.Optional(Type.Boolean({ description: 'closed ones as well' })),
      cursor: Cursor,
      limit: limit(200, 2000),
    }),
    response: { 200: TaskList, 400: Problem },
  };
  app.get('/tasks', { schema: tasks, config: SEE }, async (request) => {
    const { query } = request;
    const count = query.limit ?? 200;
    return inSnapshot(service.database, async (queries) => {
      const rows = await readTasks(queries, {
        sites: query.site === undefined ? sitesOf(request) : [query.site],
        open: query.closed !== true,
        after: readCursor(query.cursor, isOpenedPlace),
        limit: count + 1,
      });
      const shown = rows.slice(0, count);
      const sites = await namedSites(
        service,
        queries,
        shown.map(({ site }) => site),
      );
      const last = shown.at(-1);
      return {
        items: shown.map((task) => wireTask(task, sites.get(task.site) ?? null)),
        cursor: rows.length > count && last ? writeCursor({ opened: last.openedAt, id: last.id }) : null,
      };
    });
  });
}

interface OpenedPlace {
  readonly opened: Instant;
  readonly id: string;
}
const isOpenedPlace = (place: unknown): place is OpenedPlace =>
  typeof place === 'object' &&
  place !== null &&
  Number.isSafeInteger((place as OpenedPlace).opened) &&
  typeof (place as OpenedPlace).id === 'string';

export const thereIsNo = (id: string): string => `There is no alarm "${id}".`;
const notFound = (id: string) => new Refusal('not-found', thereIsNo(id));

async function withJournal(service: Service, id: string): Promise<AlarmWithJournal> {
  const found = await inSnapshot(service.database, async (queries) => {
    const kept = await readAlarm(queries, id);
    if (!kept) return null;
    const { site } = kept.alarm;
    const configured = (await namedSites(service, queries, [site])).get(site) ?? null;
    return readWithJournal(queries, kept, configured);
  });
  if (!found) throw notFound(id);
  return found;
}

function askRoute(app: App, service: Service, name: AlarmAsk): void {
  const schema = {
    params: Type.Object({ id: Type.String({ maxLength: 100 }) }),
    body: AlarmAsks[name],
    response: { 200: AlarmAnswer, 404: Problem, 409: Problem },
  };
  const config = { action: ACTIONS[name] };
  app.post(`/alarms/:id/${name}`, { schema, config }, async (request) => {
    const { id } = request.params;
    const found = await readAlarm(service.database, id);
    if (!found) throw notFound(id);
    refuseOutOfScope(request, found.alarm.site, thereIsNo(id));
    const at = service.now();
    const who = request.actor;
    const body = request.body as Body;
    const asked = askedOf(name, body, who, at);
    const { site } = found.alarm;
    const command = { id: body.command ?? randomUUID(), kind: 'alarm' as const, alarm: id, asked };
    await decided(service, site, { command, by: who.name, at });
    const kept = (await readAlarm(service.database, id)) as KeptAlarm;
    const setup = await service.setups.read(service.database, site);
    return wireAlarm(kept, setup && siteAt(setup.history, service.now()));
  });
}

interface Body {
  readonly command?: string;
  readonly text?: string;
  readonly reason?: string;
  readonly minutes?: number;
}

function askedOf(name: AlarmAsk, body: Body, who: Actor, at: Instant): Asked | Accepting {
  const mark = { by: who.name, at };
  const reason = body.reason ?? '';
  switch (name) {
    case 'accept':
    case 'acknowledge':
      return { ...mark, kind: name, person: personOf(who) };
    case 'note':
      return { ...mark, kind: name, text: body.text ?? '' };
    case 'shelve':
      return { ...mark, kind: name, reason, until: at + seconds((body.minutes ?? 0) * 60) };
    case 'out-of-service':
      return { ...mark, kind: name, reason, role: who.role };
    case 'close':
      return { ...mark, kind: name, reason };
    default:
      return { ...mark, kind: name };
  }
}

/** Who is a person of ours, by id; null: a program, or this machine before there are accounts. */
export const personOf = ({ kind, id }: Actor): string | null => (kind === 'person' ? id : null);
