import { createHash, randomBytes, timingSafeEqual } from 'node:crypto';

/** Secrets of sessions, links and tokens: 256 random bits, told once, kept only as their SHA-256. */
const BYTES = 32;
export type SecretKind = 'session' | 'link' | 'token';
const PREFIX: Readonly<Record<SecretKind, string>> = { session: 'hs_', link: 'hl_', token: 'ht_' };

export interface NewSecret {
  readonly secret: string;
  readonly hash: Buffer;
}

export function newSecret(kind: SecretKind): NewSecret {
  const secret = PREFIX[kind] + randomBytes(BYTES).toString('base64url');
  return { secret, hash: hashOf(secret) };
}

/** null: it can't be one of that kind, so nobody need be asked. */
export const secretHash = (kind: SecretKind, given: string): Buffer | null =>
  given.startsWith(PREFIX[kind]) && given.length === PREFIX[kind].length + 43 ? hashOf(given) : null;

const hashOf = (text: string): Buffer => createHash('sha256').update(text).digest();

/** In a time that tells nothing about either. */
export const isSame = (a: string, b: string): boolean => timingSafeEqual(hashOf(a), hashOf(b));
