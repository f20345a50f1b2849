import { createHash, timingSafeEqual } from 'node:crypto';
import { isLoopback } from '../settings.ts';

/** Who may ask. Until there are accounts: whoever holds the token; without one, whoever sits on this machine. */
export interface Access {
  readonly token: string | null;
}

export type Admission = 'admitted' | 'token-missing' | 'token-wrong' | 'not-loopback';

export function admit(
  access: Access,
  asked: { readonly authorization: string | undefined; readonly address: string },
): Admission {
  if (access.token === null) return isLoopback(asked.address) ? 'admitted' : 'not-loopback';
  if (asked.authorization === undefined) return 'token-missing';
  const [scheme, given = ''] = asked.authorization.split(' ');
  return scheme?.toLowerCase() === 'bearer' && same(given, access.token) ? 'admitted' : 'token-wrong';
}

/** In a time that tells nothing about either. */
const same = (a: string, b: string): boolean => timingSafeEqual(hash(a), hash(b));
const hash = (text: string): Buffer => createHash('sha256').update(text).digest();

export const SAYS: Record<Exclude<Admission, 'admitted'>, string> = {
  'token-missing': 'Send the token: Authorization: Bearer <token>.',
  'token-wrong': 'That token isn’t the one that was set with BOOTSTRAP_TOKEN.',
  'not-loopback': 'Without a token only this machine itself is let in.',
};
