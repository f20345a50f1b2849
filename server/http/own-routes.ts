import Type from 'typebox';
import { deleteToken, insertToken, readTokens } from '../../db/api-tokens.ts';
import { deleteSession, deleteSessions, readSessions } from '../../db/sessions.ts';
import { seconds } from '../../shared/base/instant.ts';
import { SessionList, TokenAsk, TokenList, TokenMade, Uuid } from '../../shared/wire/account.ts';
import { hasRole, isInScope, type Actor } from '../../shared/wire/may.ts';
import { Problem } from '../../shared/wire/problem.ts';
import { wireInstant } from '../../shared/wire/standing-wire.ts';
import type { Accounts } from '../accounts/accounts.ts';
import { ACCOUNT_BOUNDS } from '../accounts/bounds.ts';
import { newSecret } from '../accounts/secrets.ts';
import { tokenAnswer } from './account-wire.ts';
import type { App } from './app.ts';
import { Refusal } from './refusal.ts';

/** What a person looks after by themselves: where they are signed in, and the tokens of their programs. */
const config = { action: 'keep-own-account' } as const;

export function ownRoutes(app: App, accounts: Accounts): void {
  sessionRoutes(app, accounts);
  tokenRoutes(app, accounts);
}

function sessionRoutes(app: App, { database, now }: Accounts): void {
  const list = { response: { 200: SessionList } };
  app.get('/account/sessions', { schema: list, config }, async ({ actor, asker }) => {
    const at = now();
    const rows = await readSessions(database, actor.id, {
      now: at,
      seenSince: at - ACCOUNT_BOUNDS.sessionIdle,
    });
    const items = rows.map(({ id, createdAt, seenAt, endsAt, address, browser }) => ({
      id,
      isThis: id === asker?.session,
      createdAt: wireInstant(createdAt)!,
      seenAt: wireInstant(seenAt)!,
      endsAt: wireInstant(endsAt)!,
      address,
      browser,
    }));
    return { items, cursor: null };
  });

  const others = { response: { 204: Type.Null() } };
  app.delete('/account/sessions', { schema: others, config }, async ({ actor, asker }, reply) => {
    await deleteSessions(database, actor.id, asker!.session);
    return reply.code(204).send(null);
  });

  const one = { params: Type.Object({ session: Uuid }), response: { 204: Type.Null(), 404: Problem } };
  app.delete('/account/sessions/:session', { schema: one, config }, async ({ actor, params }, reply) => {
    if (!(await deleteSession(database, actor.id, params.session)))
      throw new Refusal('not-found', 'There is no such session: it has ended.');
    return reply.code(204).send(null);
  });
}

function tokenRoutes(app: App, { database, now }: Accounts): void {
  const list = { response: { 200: TokenList } };
  app.get('/account/tokens', { schema: list, config }, async ({ actor }) => ({
    items: (await readTokens(database, actor.id)).map(tokenAnswer),
    cursor: null,
  }));

  const make = { body: TokenAsk, response: { 201: TokenMade, 400: Problem, 409: Problem } };
  app.post('/account/tokens', { schema: make, config }, async ({ actor, body, audited }, reply) => {
    refuseMoreThanOwn(actor, body);
    const { secret, hash } = newSecret('token');
    const at = now();
    const made = await insertToken(database, {
      ...body,
      name: body.name.trim(),
      secretHash: hash,
      person: actor.id,
      now: at,
      expiresAt: at + body.days * seconds(86_400),
      most: ACCOUNT_BOUNDS.tokens,
    });
    if (!made) throw new Refusal('conflict', `You have ${ACCOUNT_BOUNDS.tokens} tokens: revoke one first.`);
    const { id, name, role, sites } = made;
    audited.detail = { token: id, name, role, sites };
    return reply.code(201).send({ token: tokenAnswer(made), secret });
  });

  const one = { params: Type.Object({ token: Uuid }), response: { 204: Type.Null(), 404: Problem } };
  app.delete('/account/tokens/:token', { schema: one, config }, async ({ actor, params }, reply) => {
    if (!(await deleteToken(database, actor.id, params.token)))
      throw new Refusal('not-found', 'There is no such token.');
    return reply.code(204).send(null);
  });
}

/** Nobody gives away more than they have; later on a token never has more than its person has then. */
function refuseMoreThanOwn(actor: Actor, { role, sites }: TokenAsk): void {
  if (!hasRole(actor.role, role))
    throw refused('/role', `Yours is ${actor.role}: give that one, or a lesser.`);
  const past = sites?.find((site) => !isInScope(actor.sites, site));
  if (past !== undefined) throw refused('/sites', `There is no site "${past}".`);
  if (sites === null && actor.sites !== 'all') throw refused('/sites', 'Name the sites: yours aren’t all.');
}

const refused = (pointer: string, message: string): Refusal =>
  new Refusal('bad-request', 'That token was refused.', [{ pointer, message }]);
