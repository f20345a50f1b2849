import {
  clearLinks,
  findLink,
  insertLink,
  takeLink,
  type LinkPurpose,
  type LinkRow,
} from '../../db/account-links.ts';
import type { Queries } from '../../db/pool.ts';
import { readPerson, setPassword, type PersonRow } from '../../db/people.ts';
import { deleteSessions } from '../../db/sessions.ts';
import type { Instant } from '../../shared/base/instant.ts';
import { Refusal } from '../http/refusal.ts';
import type { Accounts } from './accounts.ts';
import { forgiveAttempt } from './attempts.ts';
import { ACCOUNT_BOUNDS } from './bounds.ts';
import { hashPassword, passwordFault } from './passwords.ts';
import { newSecret, secretHash } from './secrets.ts';
import { countedAttempt, openSession, type From } from './sessions.ts';

/** Invitations and password resets: a link that its person can use once, to choose a password and be signed in. */
export interface MadeLink {
  readonly purpose: LinkPurpose;
  readonly secret: string;
  readonly expiresAt: Instant;
}

/** An invitation to who has no password yet, a reset to who has. Any link that the person had is void. */
export async function makeLink(
  queries: Queries,
  person: { readonly id: string; readonly hasPassword: boolean },
  now: Instant,
): Promise<MadeLink> {
  const purpose = person.hasPassword ? 'password-reset' : 'invitation';
  const { invitationLasts, resetLasts } = ACCOUNT_BOUNDS;
  const expiresAt = now + (purpose === 'invitation' ? invitationLasts : resetLasts);
  const { secret, hash } = newSecret('link');
  await insertLink(queries, { secretHash: hash, person: person.id, purpose, now, expiresAt });
  return { purpose, secret, expiresAt };
}

/** Whose link it is; looking changes nothing. */
export async function lookAtLink(accounts: Accounts, secret: string, address: string): Promise<LinkRow> {
  const attempt = await countedAttempt(accounts, null, address);
  const hash = secretHash('link', secret);
  const link = hash && (await findLink(accounts.database, hash, accounts.now()));
  if (!link) throw noLink();
  await forgiveAttempt(accounts.database, attempt);
  return link;
}

/** The password is set, every session of the person ends, and a new one begins. */
export async function useLink(
  accounts: Accounts,
  { secret, password }: { readonly secret: string; readonly password: string },
  from: From,
): Promise<{ readonly person: PersonRow; readonly secret: string }> {
  const looked = await lookAtLink(accounts, secret, from.address);
  refuseBadPassword(password, looked);
  const kept = await hashPassword(password);
  return accounts.database.transaction({ name: 'use-link' }, async (queries) => {
    const link = await takeLink(queries, secretHash('link', secret)!, accounts.now());
    if (!link) throw noLink(); // somebody was quicker
    await changePassword(queries, link.person, kept);
    const person = (await readPerson(queries, link.person))!;
    return { person, secret: await openSession(queries, person.id, from, accounts.now()) };
  });
}

/** With a new password every way in that the old one opened is shut: sessions and links. */
export async function changePassword(queries: Queries, person: string, kept: string): Promise<void> {
  await setPassword(queries, person, kept);
  await clearLinks(queries, person);
  await deleteSessions(queries, person, null);
}

export function refuseBadPassword(password: string, person: { name: string; email: string }): void {
  const fault = passwordFault(password, person);
  if (fault)
    throw new Refusal('bad-request', 'That password was refused.', [
      { pointer: '/password', message: fault },
    ]);
}

const noLink = (): Refusal =>
  new Refusal(
    'not-found',
    'That link was used already, has expired, or was replaced by a newer one. Ask for another.',
  );
