import Type from 'typebox';
import {
  addOverride,
  deleteOverride,
  deleteRoster,
  putRoster,
  readNames,
  readOverrides,
  readRoster,
  type StoredOverride,
} from '../../db/rosters.ts';
import type { Queries } from '../../db/pool.ts';
import { formatInstant, type Instant } from '../../shared/base/instant.ts';
import { calendarOf, parseHolidays } from '../../shared/people/icalendar.ts';
import { swapOf, turnsOf } from '../../shared/people/on-call.ts';
import type { Roster } from '../../shared/people/roster.ts';
import { dateText } from '../../shared/people/wall-time.ts';
import { Uuid } from '../../shared/wire/account.ts';
import {
  HolidaysAnswer,
  HolidaysAsk,
  OverrideAsk,
  RosterAnswer,
  RosterAsk,
  SwapAsk,
} from '../../shared/wire/on-call-answer.ts';
import { parseRoster, type RosterDocument } from '../../shared/wire/on-call-document.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { isFeed, signFeed } from '../notify/accept-link.ts';
import type { Service } from '../service.ts';
import { inSnapshot } from '../status/read-status.ts';
import type { App } from './app.ts';
import { wireTurn } from './on-call-routes.ts';
import { From, instantOf, instantOrNull, stretchOf, To } from './query.ts';
import { Refusal } from './refusal.ts';

/** Rosters: read with their turns, put whole, stood in for, swapped, and as a calendar feed. */
const SEE = { action: 'see-on-call' } as const;
const KEEP = { action: 'keep-on-call' } as const;
const STAND_IN = { action: 'stand-in' } as const;
const params = Type.Object({ roster: Uuid });
const DAY = 86_400e6;
const MOST_DAYS = 400;

export function rosterRoutes(app: App, service: Service): void {
  readRoute(app, service);
  writeRoutes(app, service);
  overrideRoutes(app, service);
  swapRoute(app, service);
  const holidays = { body: HolidaysAsk, response: { 200: HolidaysAnswer, 400: Problem } };
  app.post('/holidays', { schema: holidays, config: KEEP, bodyLimit: 1_100_000 }, ({ body }) => {
    const parsed = parseHolidays(body.calendar);
    if (!parsed.ok) throw new Refusal('bad-request', parsed.says);
    return { days: parsed.days.map(dateText) };
  });
}

function readRoute(app: App, service: Service): void {
  const schema = {
    params,
    querystring: Type.Object({ from: From, to: To }),
    response: { 200: RosterAnswer, 400: Problem, 404: Problem },
  };
  app.get('/rosters/:roster', { schema, config: SEE }, ({ params: { roster }, query }) => {
    const from = instantOrNull('from', query.from) ?? service.now();
    const to = instantOrNull('to', query.to) ?? from + 28 * DAY;
    refuseTooLong(from, to);
    return inSnapshot(service.database, (queries) => answer(queries, service, roster, { from, to }));
  });
}

function refuseTooLong(from: Instant, to: Instant): void {
  if (from < to && to - from <= MOST_DAYS * DAY) return;
  throw new Refusal('bad-request', `"to" must come after "from", by at most ${MOST_DAYS} days.`, [
    { pointer: '/to', message: 'Give an instant after "from", and not too long after it.' },
  ]);
}

const noRoster = () => new Refusal('not-found', 'There is no such roster.');

/** The roster as it is kept, ready to be asked. One that doesn't fit any more is a defect. */
async function rosterOf(queries: Queries, id: string): Promise<Roster> {
  const stored = await readRoster(queries, id);
  if (stored === null) throw noRoster();
  const parsed = parseRoster(id, stored.name, stored.document);
  if (parsed.ok) return parsed.value;
  throw new Refusal('bad-request', 'That roster doesn’t fit any more: put it anew.', parsed.faults);
}

async function answer(
  queries: Queries,
  { notices }: Service,
  id: string,
  { from, to }: { readonly from: Instant; readonly to: Instant },
): Promise<RosterAnswer> {
  const roster = await rosterOf(queries, id);
  const stored = (await readRoster(queries, id))!;
  const overrides = await readOverrides(queries, id, from, to);
  return {
    id,
    name: stored.name,
    document: stored.document as RosterDocument,
    changedAt: formatInstant(stored.changedAt),
    changedBy: stored.changedBy,
    turns: turnsOf(roster, overrides, from, to).map(wireTurn),
    overrides: overrides.map(wireOverride),
    feed: `${notices.publicUrl ?? '/'}on-call/${id}/${signFeed(notices.linkKey, id)}.ics`,
  };
}

const wireOverride = ({ id, from, to, person, why, madeBy }: StoredOverride) => ({
  id,
  from: formatInstant(from),
  to: formatInstant(to),
  person,
  why,
  madeBy,
});

function writeRoutes(app: App, service: Service): void {
  const refusals = { 400: Problem, 404: Problem, 409: Problem };
  const put = async (id: string | null, body: { name: string; document: RosterDocument }, by: string) => {
    const parsed = parseRoster(id ?? '', body.name, body.document);
    if (!parsed.ok) throw new Refusal('bad-request', 'The roster has faults.', prefixed(parsed.faults));
    const now = service.now();
    const stored = await putRoster(service.database, { id, ...body, now, by });
    if (stored !== null)
      return inSnapshot(service.database, (queries) =>
        answer(queries, service, stored.id, { from: now, to: now + 28 * DAY }),
      );
    if (id !== null && (await readRoster(service.database, id)) === null) throw noRoster();
    throw new Refusal('conflict', `There is a roster “${body.name}” already.`);
  };
  const make = { body: RosterAsk, response: { 201: RosterAnswer, ...refusals } };
  app.post('/rosters', { schema: make, config: KEEP }, async ({ body, actor }, reply) =>
    reply.code(201).send(await put(null, body, actor.name)),
  );
  const change = { params, body: RosterAsk, response: { 200: RosterAnswer, ...refusals } };
  app.put('/rosters/:roster', { schema: change, config: KEEP }, (request) =>
    put(request.params.roster, request.body, request.actor.name),
  );
  const remove = { params, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/rosters/:roster', { schema: remove, config: KEEP }, async (request, reply) => {
    if (!(await deleteRoster(service.database, request.params.roster))) throw noRoster();
    return reply.code(204).send(null);
  });
}

const prefixed = (faults: readonly { readonly pointer: string; readonly message: string }[]) =>
  faults.map(({ pointer, message }) => ({ pointer: `/document${pointer}`, message }));

function overrideRoutes(app: App, service: Service): void {
  const { database } = service;
  const add = {
    params,
    body: OverrideAsk,
    response: { 201: RosterAnswer, 400: Problem, 404: Problem },
  };
  app.post('/rosters/:roster/overrides', { schema: add, config: STAND_IN }, async (request, reply) => {
    const { roster } = request.params;
    const { person, why = '' } = request.body;
    const { from, to } = stretchOf(request.body);
    refuseTooLong(from, to);
    await refuseStranger(database, person);
    const answered = await database.transaction({ name: 'override' }, async (queries) => {
      await rosterOf(queries, roster);
      const made = { madeAt: service.now(), madeBy: request.actor.name };
      await addOverride(queries, { roster, from, to, person, why, ...made });
      return answer(queries, service, roster, aheadOf(service.now()));
    });
    return reply.code(201).send(answered);
  });
  const remove = {
    params: Type.Object({ roster: Uuid, override: Uuid }),
    response: { 204: Type.Null(), 404: Problem },
  };
  const path = '/rosters/:roster/overrides/:override';
  app.delete(path, { schema: remove, config: STAND_IN }, async (request, reply) => {
    const { roster, override } = request.params;
    if (!(await deleteOverride(database, roster, override)))
      throw new Refusal('not-found', 'There is no such override.');
    return reply.code(204).send(null);
  });
}

const aheadOf = (now: Instant) => ({ from: now, to: now + 28 * DAY });

async function refuseStranger(queries: Queries, person: string): Promise<void> {
  if ((await readNames(queries)).some(({ id }) => id === person)) return;
  throw new Refusal('bad-request', 'There is no such person.', [
    { pointer: '/person', message: 'Give the id of a person who may sign in.' },
  ]);
}

function swapRoute(app: App, service: Service): void {
  const schema = {
    params,
    body: SwapAsk,
    response: { 201: RosterAnswer, 400: Problem, 404: Problem, 409: Problem },
  };
  app.post('/rosters/:roster/swap', { schema, config: STAND_IN }, async (request, reply) => {
    const { roster: id } = request.params;
    const [one, other] = [instantOf('one', request.body.one), instantOf('other', request.body.other)];
    const span = { from: Math.min(one, other) - 40 * DAY, to: Math.max(one, other) + 40 * DAY };
    refuseTooLong(span.from, span.to);
    const answered = await service.database.transaction({ name: 'swap' }, async (queries) => {
      const roster = await rosterOf(queries, id);
      const turns = turnsOf(roster, await readOverrides(queries, id, span.from, span.to), span.from, span.to);
      const turnAt = (at: Instant) => turns.find((turn) => turn.from <= at && at < turn.to)!;
      const halves = swapOf(turnAt(one), turnAt(other));
      if (halves === null)
        throw new Refusal('conflict', 'Those two turns can’t be swapped: each needs another person.');
      const made = { madeAt: service.now(), madeBy: request.actor.name, why: request.body.why ?? 'swap' };
      for (const half of halves) await addOverride(queries, { roster: id, ...half, ...made });
      return answer(queries, service, id, aheadOf(service.now()));
    });
    return reply.code(201).send(answered);
  });
}

/** The feed: outside the API, for calendars can't sign in; its address can't be guessed. */
export function feedRoute(app: App, { database, notices, now }: Service): void {
  const schema = { hide: true, params: Type.Object({ roster: Uuid, file: Type.String({ maxLength: 40 }) }) };
  app.get('/on-call/:roster/:file', { schema }, async ({ params: { roster, file } }, reply) => {
    if (!isFeed(notices.linkKey, roster, file.replace(/\.ics$/, ''))) throw noRoster();
    const text = await inSnapshot(database, async (queries) => {
      const span = { from: now() - 7 * DAY, to: now() + 180 * DAY };
      const found = await rosterOf(queries, roster);
      const names = new Map((await readNames(queries)).map(({ id, name }) => [id, name]));
      const turns = turnsOf(
        found,
        await readOverrides(queries, roster, span.from, span.to),
        span.from,
        span.to,
      );
      const person = (id: string | null) => (id === null ? 'Nobody' : (names.get(id) ?? 'Somebody'));
      return calendarOf(turns, { roster: found.name, person, madeAt: now() });
    });
    return reply.type('text/calendar; charset=utf-8').header('cache-control', 'no-cache').send(text);
  });
}
