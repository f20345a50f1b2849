import type { FastifyReply, FastifyRequest } from 'fastify';
import Type from 'typebox';
import { insertFirstAdministrator, readPassword, type PersonRow } from '../../db/people.ts';
import { deleteSessionOf } from '../../db/sessions.ts';
import {
  AccountAnswer,
  FirstAdministrator,
  LinkAnswer,
  LinkLook,
  LinkUse,
  PasswordChange,
  SignedInAnswer,
  SignIn,
} from '../../shared/wire/account.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import { withoutCredentials, type Accounts, type Asker } from '../accounts/accounts.ts';
import { changePassword, lookAtLink, refuseBadPassword, useLink } from '../accounts/links.ts';
import { hashPassword } from '../accounts/passwords.ts';
import { secretHash } from '../accounts/secrets.ts';
import { emailOf, openSession, signIn, tryPassword, type From } from '../accounts/sessions.ts';
import { askedBy } from './access.ts';
import { actorAnswer } from './account-wire.ts';
import type { App } from './app.ts';
import { sessionCookie, sessionIn } from './cookie.ts';
import { Refusal } from './refusal.ts';

/** Getting in and out: the first administrator, signing in and out, links, one's password. */
export function accountRoutes(app: App, accounts: Accounts, provider: string | null): void {
  const who = { response: { 200: AccountAnswer } };
  app.get('/account', { schema: who, config: { action: 'ask-account' } }, (request) =>
    accountAnswer(accounts, request, request.asker).then((answer) => ({ ...answer, provider })),
  );
  firstRoute(app, accounts);
  signInRoutes(app, accounts);
  linkRoutes(app, accounts);
  passwordRoute(app, accounts);
}

function firstRoute(app: App, accounts: Accounts): void {
  const schema = {
    body: FirstAdministrator,
    response: { 201: SignedInAnswer, 400: Problem, 401: Problem, 409: Problem },
  };
  app.post(
    '/account/first-administrator',
    { schema, config: { action: 'set-up-first' } },
    async (request, reply) => {
      const { name, email, password } = request.body;
      const person = { name: name.trim(), email: realEmail(email) };
      if (await accounts.isSetUp())
        throw new Refusal('conflict', 'There is an administrator already: sign in.');
      if (request.actor.role !== 'administrator')
        throw new Refusal(
          'not-permitted',
          'Only this machine itself, or the bootstrap token, sets up the first.',
        );
      refuseBadPassword(password, person);
      const kept = await hashPassword(password);
      const made = await insertFirstAdministrator(
        accounts.database,
        { ...person, password: kept },
        accounts.now(),
      );
      if (typeof made === 'string') throw new Refusal('conflict', NOT_MADE[made]);
      const secret = await accounts.database.transaction({ name: 'sign-in' }, (queries) =>
        openSession(queries, made.id, fromOf(request), accounts.now()),
      );
      const asker = welcome(request, reply, made, secret);
      return reply.code(201).send(await accountAnswer(accounts, request, asker));
    },
  );
}

const NOT_MADE = {
  'set-up': 'There is an administrator already: sign in.',
  taken: 'Somebody with that address is there already: take another.',
} as const;

function signInRoutes(app: App, accounts: Accounts): void {
  const enter = {
    body: SignIn,
    response: { 200: SignedInAnswer, 400: Problem, 401: Problem, 429: Problem },
  };
  app.post('/account/sign-in', { schema: enter, config: { action: 'sign-in' } }, async (request, reply) => {
    const signed = await signIn(accounts, request.body, fromOf(request));
    if (!signed) throw new Refusal('not-signed-in', 'That address and that password don’t belong together.');
    const asker = welcome(request, reply, signed.person, signed.secret);
    return accountAnswer(accounts, request, asker);
  });

  const leave = { response: { 204: Type.Null() } };
  app.post('/account/sign-out', { schema: leave, config: { action: 'sign-out' } }, async (request, reply) => {
    const given = sessionIn(request.headers.cookie, request.headers.host);
    const hash = given === null ? null : secretHash('session', given);
    if (hash) await deleteSessionOf(accounts.database, hash);
    return reply.header('set-cookie', sessionCookie(null, request.headers.host)).code(204).send(null);
  });
}

function linkRoutes(app: App, accounts: Accounts): void {
  // a secret goes in a body, never in an address: addresses are written into logs and histories
  const look = { body: LinkLook, response: { 200: LinkAnswer, 400: Problem, 404: Problem, 429: Problem } };
  app.post('/account/link', { schema: look, config: { action: 'look-at-link' } }, async ({ body, ip }) => {
    const { purpose, name, email, expiresAt } = await lookAtLink(accounts, body.secret, ip);
    return { purpose, name, email, expiresAt: wireInstant(expiresAt)! };
  });

  const use = { body: LinkUse, response: { 200: SignedInAnswer, 400: Problem, 404: Problem, 429: Problem } };
  app.post('/account/link/use', { schema: use, config: { action: 'use-link' } }, async (request, reply) => {
    const { person, secret } = await useLink(accounts, request.body, fromOf(request));
    return accountAnswer(accounts, request, welcome(request, reply, person, secret));
  });
}

function passwordRoute(app: App, accounts: Accounts): void {
  const schema = {
    body: PasswordChange,
    response: { 204: Type.Null(), 400: Problem, 401: Problem, 429: Problem },
  };
  app.post(
    '/account/password',
    { schema, config: { action: 'keep-own-account' } },
    async (request, reply) => {
      const { actor, body, asker } = request;
      const email = asker!.email!;
      const kept = await readPassword(accounts.database, actor.id);
      const asked = { account: email, kept, given: body.current, address: request.ip };
      if (!(await tryPassword(accounts, asked)))
        throw new Refusal('bad-request', 'That isn’t your password as it is now.', [
          { pointer: '/current', message: 'That isn’t your password as it is now.' },
        ]);
      refuseBadPassword(body.password, { name: actor.name, email });
      const fresh = await hashPassword(body.password);
      const secret = await accounts.database.transaction({ name: 'change-password' }, async (queries) => {
        await changePassword(queries, actor.id, fresh);
        return openSession(queries, actor.id, fromOf(request), accounts.now());
      });
      return reply.header('set-cookie', sessionCookie(secret, request.headers.host)).code(204).send(null);
    },
  );
}

export const fromOf = (request: FastifyRequest): From => ({
  address: request.ip,
  browser: request.headers['user-agent'] ?? '',
  session: sessionIn(request.headers.cookie, request.headers.host),
});

/** Whoever has just signed in: their cookie, and their name in the audit trail. */
export function welcome(
  request: FastifyRequest,
  reply: FastifyReply,
  person: PersonRow,
  secret: string,
): Asker {
  const { id, name, email, role, sites } = person;
  reply.header('set-cookie', sessionCookie(secret, request.headers.host));
  request.audited.actor = { kind: 'person', id, name };
  return { actor: { kind: 'person', id, name, role, sites: sites ?? 'all' }, session: null, email };
}

async function accountAnswer(
  accounts: Accounts,
  request: FastifyRequest,
  asker: Asker | null,
): Promise<SignedInAnswer> {
  const isSetUp = await accounts.isSetUp();
  return {
    actor: asker ? actorAnswer(asker.actor) : null,
    email: asker?.email ?? null,
    isSetUp,
    firstAdministrator: isSetUp ? null : firstFrom(accounts, request),
  };
}

function firstFrom(accounts: Accounts, request: FastifyRequest): AccountAnswer['firstAdministrator'] {
  if (accounts.token !== null) return 'with-token';
  return 'asker' in withoutCredentials(null, askedBy(request), false) ? 'here' : 'not-from-here';
}

/** Whether mail reaches it only mail can tell; that it has the form of one is all that is asked. */
export function realEmail(given: string): string {
  const email = emailOf(given);
  if (/^[^\s@<>,;:"\\]+@[^\s@<>,;:"\\]+$/.test(email)) return email;
  throw new Refusal('bad-request', 'That isn’t an e-mail address.', [
    { pointer: '/email', message: 'Give an address with one @, as somebody@example.org.' },
  ]);
}
