import { findToken, touchToken } from '../../db/api-tokens.ts';
import { hasAdministrator } from '../../db/people.ts';
import type { Database } from '../../db/pool.ts';
import { findSession, touchSession } from '../../db/sessions.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { commonSites, lesserRole, type Actor } from '../../shared/wire/may.ts';
import { isLoopback } from '../loopback.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';
import { isSame, secretHash } from './secrets.ts';

/**
 * Who is it that asks? By a token, by the session in a cookie, or, while nobody has set up an administrator, by sitting at
 * this machine. From then on everybody signs in, this machine too.
 */
export interface Accounts {
  readonly database: Database;
  /** BOOTSTRAP_TOKEN; null: none was set */
  readonly token: string | null;
  readonly now: () => Instant;
  /** is there an administrator who can sign in */
  isSetUp(): Promise<boolean>;
  admit(asked: Asked): Promise<Admission>;
}

/** What of a request says who asks. */
export interface Asked {
  readonly authorization: string | undefined;
  /** the session's secret */
  readonly session: string | null;
  readonly address: string;
  /** the name under which this server was asked, and whether somebody else passed the question on */
  readonly host: string | undefined;
  readonly isForwarded: boolean;
}

/** Whoever was let in, and by which session. */
export interface Asker {
  readonly actor: Actor;
  readonly session: string | null;
  readonly email: string | null;
}

export type WhyOut = 'sign-in' | 'token-missing' | 'token-wrong' | 'not-loopback';
export type Admission = { readonly asker: Asker } | { readonly why: WhyOut };

export const SAYS: Readonly<Record<WhyOut, string>> = {
  'sign-in': 'Sign in, or send a token: Authorization: Bearer <token>.',
  'token-missing': 'Send the token: Authorization: Bearer <token>.',
  'token-wrong':
    'That token is neither the one that was set with BOOTSTRAP_TOKEN nor one that still holds of a person.',
  'not-loopback': 'Until there is an administrator only this machine itself is let in without a token.',
};

/** The whole of this machine, before there are accounts. */
const MACHINE: Asker = {
  actor: { kind: 'machine', id: 'this-machine', name: 'this machine', role: 'administrator', sites: 'all' },
  session: null,
  email: null,
};
const BOOTSTRAP: Asker = {
  actor: { kind: 'token', id: 'bootstrap', name: 'the bootstrap token', role: 'administrator', sites: 'all' },
  session: null,
  email: null,
};

export function makeAccounts(given: Pick<Accounts, 'database' | 'token' | 'now'>): Accounts {
  const { database, token, now } = given;
  let isSetUp = false; // once there is one, there always is: the last can't be taken away
  const asked = async () => (isSetUp ||= await hasAdministrator(database));
  return {
    ...given,
    isSetUp: asked,
    async admit(question) {
      const asker = (await byToken(given, question)) ?? (await bySession(database, question, now()));
      if (asker) return { asker };
      return withoutCredentials(token, question, await asked());
    },
  };
}

/** Whoever brings nothing that holds. */
export function withoutCredentials(token: string | null, asked: Asked, isSetUp: boolean): Admission {
  if (!isSetUp && token === null) return isThisMachine(asked) ? { asker: MACHINE } : { why: 'not-loopback' };
  if (asked.authorization !== undefined) return { why: 'token-wrong' };
  return { why: isSetUp ? 'sign-in' : 'token-missing' };
}

/**
 * From loopback, asked by a loopback name, and not passed on: a page elsewhere whose name was made to lead here (DNS
 * rebinding) and a proxy on this machine are somebody else.
 */
const isThisMachine = ({ address, host, isForwarded }: Asked): boolean =>
  isLoopback(address) && !isForwarded && isLoopback(hostName(host ?? ''));

/** Without its port: `[::1]:8080` → `[::1]`. */
export const hostName = (host: string): string => host.replace(/:\d+$/, '').toLowerCase();

async function byToken({ database, token, now }: Pick<Accounts, 'database' | 'token' | 'now'>, asked: Asked) {
  const [scheme, given = ''] = asked.authorization?.split(' ') ?? [];
  if (scheme?.toLowerCase() !== 'bearer') return null;
  if (token !== null && isSame(given, token)) return BOOTSTRAP;
  const hash = secretHash('token', given);
  const found = hash && (await findToken(database, hash, now()));
  if (!found) return null;
  if (found.usedAt === null || found.usedAt < now() - ACCOUNT_BOUNDS.seenEvery)
    await touchToken(database, found.id, now());
  const actor: Actor = {
    kind: 'token',
    id: found.id,
    name: `${found.name} (token of ${found.personName})`,
    role: lesserRole(found.role, found.personRole),
    sites: commonSites(found.sites ?? 'all', found.personSites ?? 'all'),
  };
  return { actor, session: null, email: null };
}

async function bySession(database: Database, asked: Asked, now: Instant): Promise<Asker | null> {
  const hash = asked.session === null ? null : secretHash('session', asked.session);
  const seenSince = now - ACCOUNT_BOUNDS.sessionIdle;
  const found = hash && (await findSession(database, hash, { now, seenSince }));
  if (!found) return null;
  if (found.seenAt < now - ACCOUNT_BOUNDS.seenEvery)
    await touchSession(database, found.session, now, asked.address);
  const { person, name, role, sites, session, email } = found;
  return { actor: { kind: 'person', id: person, name, role, sites: sites ?? 'all' }, session, email };
}
