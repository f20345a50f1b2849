import type { Queries } from '../../db/pool.ts';
import { readPersonToSignIn, type PersonRow } from '../../db/people.ts';
import { deleteSessionOf, insertSession } from '../../db/sessions.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { Refusal } from '../http/refusal.ts';
import type { Accounts } from './accounts.ts';
import { beginAttempt, forgiveAttempt, type Attempt } from './attempts.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';
import { isPassword, TooBusy } from './passwords.ts';
import { newSecret, secretHash } from './secrets.ts';

/** From where somebody signs in. */
export interface From {
  readonly address: string;
  readonly browser: string;
  /** the session that the browser held until now */
  readonly session: string | null;
}

/** null: that address and password don't belong together, and which of them is wrong isn't said. */
export async function signIn(
  accounts: Accounts,
  { email, password }: { readonly email: string; readonly password: string },
  from: From,
): Promise<{ readonly person: PersonRow; readonly secret: string } | null> {
  const person = await readPersonToSignIn(accounts.database, emailOf(email));
  const right = await tryPassword(accounts, {
    account: emailOf(email),
    kept: person?.password ?? null,
    given: password,
    address: from.address,
  });
  if (!person || !right) return null;
  const { database, now } = accounts;
  const secret = await database.transaction({ name: 'sign-in' }, (queries) =>
    openSession(queries, person.id, from, now()),
  );
  return { person, secret };
}

/** A new session, never the one that the browser brought: who planted that would hold it too (session fixation). */
export async function openSession(
  queries: Queries,
  person: string,
  from: From,
  now: Instant,
): Promise<string> {
  const before = from.session === null ? null : secretHash('session', from.session);
  if (before) await deleteSessionOf(queries, before);
  const { secret, hash } = newSecret('session');
  const { address, browser } = from;
  const endsAt = now + ACCOUNT_BOUNDS.sessionLongest;
  await insertSession(queries, { secretHash: hash, person, now, endsAt, address, browser });
  return secret;
}

/** Is it the password; every attempt counts until it has been right. */
export async function tryPassword(
  accounts: Accounts,
  asked: {
    readonly account: string;
    readonly kept: string | null;
    readonly given: string;
    readonly address: string;
  },
): Promise<boolean> {
  const attempt = await countedAttempt(accounts, asked.account, asked.address);
  try {
    const right = await isPassword(asked.kept, asked.given);
    if (right) await forgiveAttempt(accounts.database, attempt);
    return right;
  } catch (error) {
    if (!(error instanceof TooBusy)) throw error;
    await forgiveAttempt(accounts.database, attempt);
    throw new Refusal('too-many-requests', 'Many sign in at this moment. Try again in a few seconds.', [], {
      'retry-after': '5',
    });
  }
}

/** Counts an attempt, or says how long one has to wait. */
export async function countedAttempt(
  { database, now }: Accounts,
  account: string | null,
  address: string,
): Promise<Attempt> {
  const attempt = await beginAttempt(database, { account, address, now: now() });
  if (attempt.waitSeconds === null) return attempt;
  const minutes = Math.ceil(attempt.waitSeconds / 60);
  throw new Refusal(
    'too-many-requests',
    `Too many attempts in vain. Try again in ${minutes} ${minutes === 1 ? 'minute' : 'minutes'}.`,
    [],
    { 'retry-after': String(attempt.waitSeconds) },
  );
}

/** As it is compared. */
export const emailOf = (given: string): string => given.trim().toLowerCase();
