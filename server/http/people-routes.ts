import Type from 'typebox';
import {
  insertPerson,
  readPeople,
  readPerson,
  updatePerson,
  type PersonRow,
  type PersonUpdate,
} from '../../db/people.ts';
import { clearLinks } from '../../db/account-links.ts';
import { deleteSessions } from '../../db/sessions.ts';
import {
  LinkMade,
  PersonAnswer,
  PersonAsk,
  PersonChange,
  PersonList,
  PersonMade,
  Uuid,
} from '../../shared/wire/account.ts';
import { Problem } from '../../shared/wire/problem.ts';
import type { Accounts } from '../accounts/accounts.ts';
import { makeLink } from '../accounts/links.ts';
import { realEmail } from './account-routes.ts';
import { linkAnswer, personAnswer } from './account-wire.ts';
import type { App } from './app.ts';
import { Cursor, limit, readCursor, writeCursor } from './query.ts';
import { Refusal } from './refusal.ts';

/** People and their rights: invited, changed, shut out; links for their passwords are made here and handed over by hand. */
const config = { action: 'keep-people' } as const;
const params = Type.Object({ person: Uuid });

export function peopleRoutes(app: App, accounts: Accounts): void {
  listRoute(app, accounts);
  inviteRoute(app, accounts);
  changeRoute(app, accounts);
  linkRoute(app, accounts);
  signOutRoute(app, accounts);
}

function listRoute(app: App, { database }: Accounts): void {
  const schema = {
    querystring: Type.Object({ cursor: Cursor, limit: limit(200, 1000) }),
    response: { 200: PersonList, 400: Problem },
  };
  app.get('/people', { schema, config }, async ({ query }) => {
    const count = query.limit ?? 200;
    const rows = await readPeople(database, readCursor(query.cursor, isPlace), count + 1);
    const items = rows.slice(0, count);
    const last = items.at(-1);
    const cursor = rows.length > count && last ? writeCursor({ name: last.name, id: last.id }) : null;
    return { items: items.map(personAnswer), cursor };
  });
}

const isPlace = (place: unknown): place is { name: string; id: string } => {
  const { name, id } = (place ?? {}) as { name?: unknown; id?: unknown };
  return typeof name === 'string' && typeof id === 'string' && /^[0-9a-f-]{36}$/.test(id);
};

function inviteRoute(app: App, { database, now }: Accounts): void {
  const schema = { body: PersonAsk, response: { 201: PersonMade, 400: Problem, 409: Problem } };
  app.post('/people', { schema, config }, async ({ body, audited }, reply) => {
    const asked = { ...body, name: body.name.trim(), email: realEmail(body.email), password: null };
    refuseScopedAdministrator(asked);
    const made = await database.transaction({ name: 'invite' }, async (queries) => {
      const person = await insertPerson(queries, asked, now());
      return person && { person, link: await makeLink(queries, person, now()) };
    });
    if (!made) throw new Refusal('conflict', 'Somebody with that address is there already.');
    audited.detail = { person: made.person.id, ...rightsOf(made.person) };
    return reply.code(201).send({ person: personAnswer(made.person), link: linkAnswer(made.link) });
  });
}

function changeRoute(app: App, { database, now }: Accounts): void {
  const schema = {
    params,
    body: PersonChange,
    response: { 200: PersonAnswer, 400: Problem, 404: Problem, 409: Problem },
  };
  app.put('/people/:person', { schema, config }, async ({ params: { person }, body, audited }) => {
    const { isClosed, ...rest } = body;
    const change: PersonUpdate = { ...rest, name: rest.name.trim(), closedAt: isClosed ? now() : null };
    refuseScopedAdministrator(change);
    const updated = await updatePerson(database, person, change);
    if (updated === 'not-found') throw noPerson();
    if (updated === 'the-last')
      throw new Refusal(
        'conflict',
        'Nobody would be left who may look after people: make another administrator first.',
      );
    if (isClosed) {
      await deleteSessions(database, person, null);
      await clearLinks(database, person);
    }
    audited.detail = { before: rightsOf(updated.before), after: rightsOf(updated.after) };
    return personAnswer(updated.after);
  });
}

function linkRoute(app: App, { database, now }: Accounts): void {
  const schema = { params, response: { 201: LinkMade, 404: Problem, 409: Problem } };
  app.post('/people/:person/link', { schema, config }, async ({ params: { person } }, reply) => {
    const found = await readPerson(database, person);
    if (!found) throw noPerson();
    if (found.closedAt !== null) throw new Refusal('conflict', 'That account is shut: open it first.');
    const link = await database.transaction({ name: 'make-link' }, (queries) =>
      makeLink(queries, found, now()),
    );
    return reply.code(201).send(linkAnswer(link));
  });
}

function signOutRoute(app: App, { database }: Accounts): void {
  const schema = { params, response: { 204: Type.Null(), 404: Problem } };
  app.delete('/people/:person/sessions', { schema, config }, async ({ params: { person } }, reply) => {
    if (!(await readPerson(database, person))) throw noPerson();
    await deleteSessions(database, person, null);
    return reply.code(204).send(null);
  });
}

const noPerson = (): Refusal => new Refusal('not-found', 'There is no such person.');

const rightsOf = ({ name, role, sites, closedAt }: PersonRow) => ({
  name,
  role,
  sites,
  isClosed: closedAt !== null,
});

/** An administrator looks after people and may give anybody every site: a scope would only seem to bind them. */
function refuseScopedAdministrator({ role, sites }: Pick<PersonRow, 'role' | 'sites'>): void {
  const bad = sites?.find((site) => !/^[a-z0-9][a-z0-9-]{0,62}$/.test(site));
  if (bad !== undefined) throw refused(`"${bad}" is no site’s id.`);
  if (role === 'administrator' && sites !== null)
    throw refused('An administrator has every site: leave the list out.');
}

const refused = (message: string): Refusal =>
  new Refusal('bad-request', 'Those rights were refused.', [{ pointer: '/sites', message }]);
